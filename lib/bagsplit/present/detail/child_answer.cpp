#include "bagsplit/present/detail/child_answer.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "bagsplit/jobs/fast_end.hpp"
#include "bagsplit/present/detail/squad_answer.hpp"
#include "bagsplit/present/text/profile_text.hpp"
#include "bagsplit/safety/safety.hpp"
#include "bagsplit/text/number_text.hpp"

namespace bagsplit::present {

namespace {

using jobs::Mark;

// How one quantity is said to a child and of it to a parent. At a bag the first of them is also said where little is
// left to gain.
struct Said {
  std::string_view what;
  const char* well;         ///< to the child
  const char* parent_well;  ///< "X ..."
  const char* work;         ///< to the child; the seconds follow
  const char* parent_work;  ///< "is now practising ..."
};
constexpr std::array said = std::to_array<Said>({
    {"call", "You leave quickly on the call.", "leaves quickly on the call", "The call: leaving sooner wins you ",
     "leaving at once on the call"},
    {"get-up", "You get up fast.", "gets up fast from lying", "Getting up: there you can win ",
     "getting up from lying"},
    {"first-steps", "Your first steps are quick.", "has quick first steps", "Your first steps: there you can win ",
     "the first steps"},
    {"speed", "You run fast once you are going.", "runs fast once going", "Running fast and loose: there you can win ",
     "running fast and loose"},
    {"first", "You take first as well as anybody could ask.", "rounds first well", "Rounding first: it costs you ",
     "a wide, unbroken turn at first base"},
    {"second", "You take second as well as anybody could ask.", "rounds second well", "Rounding second: it costs you ",
     "a wide, unbroken turn at second base"},
    {"third", "You take third as well as anybody could ask.", "rounds third well", "Rounding third: it costs you ",
     "a wide, unbroken turn at third base"},
    {"home", "You come home as well as anybody could ask.", "runs well from third to home",
     "From third to home: it costs you ", "running through the plate"},
    {"change", "You got faster this season, and not by growing alone.", "got faster this season", "", ""},
});
static_assert(said.size() == jobs::marked_quantities.size());

// A sure strength, or else the bag where least is left to gain; said.size() for neither.
std::size_t strength_of(const jobs::PlayerProfile& player) {
  const auto cost = [&](std::size_t k) { return player.marks[k].cost_s.value_or(0.0); };
  std::size_t best = said.size();
  for (const bool sure : {true, false}) {
    for (std::size_t k = 0; k < said.size(); ++k) {
      const Mark mark = player.marks[k].mark;
      const bool fits =
          sure ? mark == Mark::good : mark == Mark::ordinary && jobs::marked_quantities[k].at_bag && cost(k) < 0.10;
      if (fits && (best == said.size() || cost(k) < cost(best))) {
        best = k;
      }
    }
    if (best != said.size()) {
      break;
    }
  }
  return best;
}

const char* little_left(std::string_view what) {
  return what == "first"    ? "Rounding first there is hardly anything left to gain."
         : what == "second" ? "Rounding second there is hardly anything left to gain."
         : what == "third"  ? "Rounding third there is hardly anything left to gain."
                            : "From third to home there is hardly anything left to gain.";
}

std::vector<std::string> not_known_words(const jobs::PlayerProfile& player) {
  std::vector<std::string> out;
  std::vector<std::string> bags;
  std::size_t all_bags = 0;
  for (std::size_t k = 0; k < jobs::change_quantity; ++k) {
    const jobs::MarkedQuantity& quantity = jobs::marked_quantities[k];
    all_bags += quantity.at_bag ? 1U : 0U;
    if (player.marks[k].mark != Mark::unknown) {
      continue;
    }
    if (quantity.at_bag) {
      bags.emplace_back(quantity.words);
      continue;
    }
    out.push_back(quantity.what == "call"     ? "How soon you leave on the call: a few starts on a call would tell."
                  : quantity.what == "get-up" ? "How fast you get up: a few starts from lying would tell."
                  : quantity.what == "first-steps" ? "Your first steps: two straight runs, timed at 10 m, would tell."
                                                   : "Your full speed: two straight runs of 30 m would tell.");
  }
  if (!bags.empty()) {
    out.push_back(bags.size() == all_bags ? "What each bag costs you: two laps would tell."
                                          : "How much " + text::joined(bags) + (bags.size() == 1 ? " costs" : " cost") +
                                                " you: another lap or two would tell.");
  }
  return out;
}

}  // namespace

std::string seconds_in_words(double seconds) {
  constexpr std::array<std::pair<double, const char*>, 8> words = {{{0.05, "a few hundredths of a second"},
                                                                    {0.10, "a tenth of a second"},
                                                                    {0.15, "a tenth of a second or more"},
                                                                    {0.20, "two tenths of a second"},
                                                                    {0.25, "a quarter of a second"},
                                                                    {0.30, "three tenths of a second"},
                                                                    {0.40, "four tenths of a second"},
                                                                    {0.50, "half a second"}}};
  if (seconds > 0.55) {
    return "about " + text::fixed(seconds, 1) + " seconds";
  }
  const auto nearest = std::min_element(words.begin(), words.end(), [&](const auto& a, const auto& b) {
    return std::abs(a.first - seconds) < std::abs(b.first - seconds);
  });
  return std::string("about ") + nearest->second;
}

std::string own_times_words(const jobs::OwnTimes& times) {
  std::string where;
  if (times.course == "circuit" && times.mark == "home") {
    where = "Once round";
  } else if (times.course.starts_with("home-")) {
    const std::size_t from = std::string_view("home-").size();
    where = "Home to " + times.course.substr(from, times.course.find('-', from) - from);
  } else {
    const std::size_t digits = std::min(times.mark.find_first_not_of("0123456789."), times.mark.size());
    const bool distance = digits > 0 && digits < times.mark.size();
    where = distance ? times.mark.substr(0, digits) + " " + times.mark.substr(digits) : times.mark;
    where = times.course == "straight" ? where : times.course + ", " + where;
  }
  where += times.course.ends_with("-reverse") ? ", the other way round" : "";
  where += times.posture == runs::Posture::prone    ? " from lying"
           : times.posture == runs::Posture::crouch ? " from a crouch"
           : times.posture == runs::Posture::split  ? " from a split stance"
           : times.posture == runs::Posture::swing  ? " after a swing"
                                                    : "";
  return where + (times.start == runs::StartKind::self      ? ", own start"
                  : times.start == runs::StartKind::beam    ? ", from a gate"
                  : times.start == runs::StartKind::contact ? ", from contact"
                                                            : "");
}

std::string day_words(runs::Date date) {
  jobs::PlayerProfile one;
  one.first_date = one.last_date = date;
  const std::string words = days_words({one});
  return words.substr(0, words.rfind(' '));
}

ChildAnswer child_answer(const jobs::PlayerProfile& player, const std::string& shown) {
  ChildAnswer out;
  const std::size_t strength = strength_of(player);
  std::string good = "comes to practice and runs";
  if (strength != said.size()) {
    const bool sure = player.marks[strength].mark == Mark::good;
    out.well = sure ? said[strength].well : little_left(said[strength].what);
    good = said[strength].parent_well;
  } else {
    out.well = "You have " + text::counted(player.runs_used, "timed run") + ": that is how one gets faster.";
  }
  out.not_known = not_known_words(player);
  if (player.work_on.empty()) {
    out.work = "Nothing stands out: keep running, keep it fun.";
    out.note = shown + " " + good + ", and nothing stands out to work on.";
  } else {
    const jobs::WorkOn& work = player.work_on.front();
    const Said& words = *std::find_if(said.begin(), said.end(), [&](const Said& s) { return s.what == work.what; });
    const std::size_t place = static_cast<std::size_t>(&words - said.data());
    const std::optional<double> cost = player.marks[place].cost_s;
    const std::string seconds = cost ? seconds_in_words(*cost) : "some time";
    out.work = words.work + seconds + ".";
    out.drill = work.drill;
    out.how = work.how;
    out.dose = "2 easy, then " + dose_words(work);
    const double fastest =
        player.top_speed_mps ? player.top_speed_mps->hi : jobs::fast_end_mps(player.age_years, player.sex);
    out.care = safety::practice_caution(work.what == "get-up", fastest);
    out.note =
        shown + " " + good + ", and is now practising " + words.parent_work + ", where " + seconds + " can be won.";
  }
  out.note +=
      " The times are taken by hand, so one evening's time says little; we look at them together after a few "
      "weeks.";
  return out;
}

std::string note_text(const jobs::ProfileResult& result, const text::TextOptions& options) {
  std::string out;
  for (const jobs::PlayerProfile& player : result.players) {
    out += (out.empty() ? "" : "\n") + text::paragraph(child_answer(player, player.player).note, options.width);
  }
  return out;
}

}  // namespace bagsplit::present
