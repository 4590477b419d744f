#pragma once

#include <string>
#include <vector>

#include "support/process.hpp"

/// The pages that are opened, and the browser that opens them.
namespace bagsplit::test {

struct PageCase {
  const char* name;
  const char* make;  ///< writes page.html
};

// Invented players whose texts are as awkward as texts can be; one date, no ages.
inline constexpr const char* hostile_log =
    "# base-distance: 60 ft\n"
    "date,player,course,timer,first,second,third,home\n"
    "2026-04-11,<script>alert(1)</script>,circuit,\"<b>AK\",4.05,8.02,12.10,16.31\n"
    "2026-04-11,\"a \"\"quoted\"\" 'id' & more of it that goes on and on without an "
    "end\",circuit,RB,3.92,7.75,11.80,15.70\n"
    "2026-04-11,\xF0\x9F\x98\x80,circuit,AK,3.99,7.95,11.90,15.90\n"
    "2026-04-11,\xD7\xA9\xD7\x9C\xD7\x95\xD7\x9D,circuit,AK,4.11,8.15,12.22,16.36\n";

inline const std::vector<PageCase>& page_cases() {
  static const std::vector<PageCase> cases{
      {"squad", "bagsplit report data/demo --places -o page.html"},
      {"players", "bagsplit report data/demo --player 12 --player 31 --player 40 -o page.html"},
      {"everybody", "bagsplit report data/demo --each --anonymise --salt 'for the tests' -o page.html"},
      {"evaluation",
       "bagsplit report data/demo --evaluation --by time:first@home-first --cut 6 --next-runs 6 -o page.html"},
      {"relay", "bagsplit report data/demo data/demo/relay --relay -o page.html"},
      {"hostile", "bagsplit report hostile.csv --each -o page.html"},
      {"empty", "printf 'date,player,course,first\\n' >none.csv; bagsplit report none.csv -o page.html"},
  };
  return cases;
}

/// A folder with page.html in it.
class PageFolder {
 public:
  explicit PageFolder(const PageCase& page) : place_(surroundings()) {
    write_file(place_.folder() / "hostile.csv", hostile_log);
    made_ = place_.run(page.make, "");
  }
  bool made() const { return made_.exit_code == 0; }
  const std::string& talk() const { return made_.err; }
  std::string html() const { return read_file(place_.folder() / "page.html"); }
  Outcome run(const std::string& script) { return place_.run(script, ""); }
  std::filesystem::path file(const std::string& name) const { return place_.folder() / name; }

  /// Runs the browser on a file of the folder. Its own words (log, updates) go to standard error.
  Outcome browse(const std::string& options, const std::string& file) {
    return run(std::string(BAGSPLIT_CHROMIUM) +
               " --headless --no-sandbox --disable-gpu --no-first-run --disable-background-networking "
               "--disable-component-update --disable-sync"
               " --disable-dev-shm-usage --user-data-dir=\"$PWD/browser\" --enable-logging=stderr " +
               options + " \"file://$PWD/" + file + "\"");
  }

 private:
  static Surroundings surroundings() {
    Surroundings here;
    here.program = BAGSPLIT_PROGRAM;
    here.data = BAGSPLIT_DATA_DIR;
    return here;
  }

  Workplace place_;
  Outcome made_;
};

/// The page with a script at its end: it may run only because the page's own rule against scripts is taken out.
inline std::string with_script(std::string html, const std::string& script) {
  const std::string rule = "<meta http-equiv=\"Content-Security-Policy\"";
  if (const std::size_t at = html.find(rule); at != std::string::npos) {
    html.erase(at, html.find('>', at) + 1 - at);
  }
  const std::size_t end = html.rfind("</body>");
  return html.insert(end, "<script>" + script + "</script>");
}

/// What a script left in an attribute of the root element.
inline std::string left_in(const std::string& dom, const std::string& attribute) {
  const std::size_t at = dom.find(attribute + "=\"");
  if (at == std::string::npos) {
    return {};
  }
  const std::size_t from = at + attribute.size() + 2;
  return dom.substr(from, dom.find('"', from) - from);
}

}  // namespace bagsplit::test
