// Any lines typed into a recording session: what was kept is a log that another session takes over, entry for entry.
#include <algorithm>
#include <string>

#include "bagsplit/record/record_session.hpp"
#include "fuzz/property.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace bagsplit;
  record::RecordSetup setup;
  setup.course = "circuit";
  setup.base_distance = "60 ft";
  setup.date = "2026-04-11";
  setup.timer = "AK";
  setup.marks = {"first", "second", "third", "home"};
  setup.order = {"12", "7", "9"};
  record::RecordSession session(setup);
  std::string log = session.header();
  std::string_view lines = fuzz::text_of(data, size);
  for (int n = 0; n < 200 && !lines.empty(); ++n) {
    const std::size_t end = std::min(lines.find('\n'), lines.size());
    const record::RecordReply reply = session.take(lines.substr(0, end));
    lines.remove_prefix(std::min(end + 1, lines.size()));
    if (reply.kind == record::RecordReply::Kind::end) {
      break;
    }
    if (reply.kind == record::RecordReply::Kind::keep) {
      const std::size_t before = session.entries().size();
      log += reply.row;
      const std::string told = session.kept();
      const auto rows = static_cast<std::ptrdiff_t>(session.entries().size() - before);
      fuzz::hold(rows > 0 && reply.row.ends_with('\n') && std::count(reply.row.begin(), reply.row.end(), '\n') == rows,
                 "a row is one line");
      fuzz::hold(told.starts_with("kept "), "what is kept is answered so");
    }
  }
  record::RecordSession after(setup);
  text::Problems problems;
  fuzz::hold(after.resume(log, "log.csv", problems), "a session takes over the log of another");
  fuzz::hold(after.entries().size() == session.entries().size() && after.standing() == session.standing(),
             "no entry is lost");
  return 0;
}
