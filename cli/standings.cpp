#include <algorithm>
#include <string_view>
#include <unordered_set>

#include "bagsplit/jobs/standings/standings.hpp"
#include "bagsplit/present/standings_report.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/text.hpp"
#include "bagsplit/text/text_width.hpp"
#include "command_line.hpp"
#include "declare.hpp"
#include "input.hpp"
#include "session.hpp"
#include "standings_choice.hpp"

namespace bagsplit::cli {

namespace {

constexpr std::size_t most_draws = 1'000'000;

const std::string known_quantities =
    "time:MARK@COURSE such as time:first@home-first, reaction, acceleration, top-speed, path-efficiency or index";

// "7-8,9-10" or "9".
std::optional<std::vector<jobs::AgeSpan>> read_spans(const std::string& text) {
  std::vector<jobs::AgeSpan> out;
  std::size_t from = 0;
  while (from <= text.size()) {
    const std::size_t end = std::min(text.find(',', from), text.size());
    const std::string one = text.substr(from, end - from);
    const std::size_t dash = one.find('-');
    const auto first = runs::parse_count(one.substr(0, dash), 1, 99);
    const auto last = dash == std::string::npos ? first : runs::parse_count(one.substr(dash + 1), 1, 99);
    if (!first || !last || *first > *last) {
      return std::nullopt;
    }
    for (const jobs::AgeSpan& other : out) {
      if (static_cast<int>(*first) <= other.to && other.from <= static_cast<int>(*last)) {
        return std::nullopt;
      }
    }
    out.push_back({static_cast<int>(*first), static_cast<int>(*last)});
    from = end + 1;
  }
  return out;
}

void declare_order(Options& app, StandingsRequest& request) {
  declare_text(app, "--by", {purpose::choice, "QUANTITY", "Order by " + known_quantities, "the time most players have"},
               [&request](const std::string& text) { request.by = text; });
  declare_list(app, "--weight", request.weights,
               {purpose::choice, "NAME=W",
                "A part of the index and its weight, above 0: top-speed=2; give it once for each part", "no part"});
  declare_value<jobs::StandingsMethod>(
      app, "--method", request.method,
      {purpose::choice, "estimate|best", "Ability as all runs tell it, or official best times with rule-book ties",
       "estimate"},
      "estimate or best", [](const std::string& text) -> std::optional<jobs::StandingsMethod> {
        return text == "estimate" ? std::optional(jobs::StandingsMethod::estimate)
               : text == "best"   ? std::optional(jobs::StandingsMethod::best)
                                  : std::nullopt;
      });
  declare_value<jobs::Ties>(
      app, "--ties", request.ties,
      {purpose::choice, "shared|as-read",
       "Equal official times share a place, or come as they were read to 0.01 s, which is not the rule book's order",
       "shared"},
      "shared or as-read", [](const std::string& text) -> std::optional<jobs::Ties> {
        return text == "shared"    ? std::optional(jobs::Ties::shared)
               : text == "as-read" ? std::optional(jobs::Ties::as_read)
                                   : std::nullopt;
      });
  declare_switch(app, "--age-adjusted", request.age_adjusted,
                 {purpose::choice, "", "Compare each child with what is usual at its age and sex (z-score)", ""});
  declare_switch(app, "--age-groups", request.age_groups,
                 {purpose::choice, "", "One order for each league age; the cut is of each", ""});
  declare_value<std::vector<jobs::AgeSpan>>(
      app, "--age-spans", request.age_spans,
      {purpose::choice, "SPANS", "League ages that go together, as in 7-8,9-10; means --age-groups",
       "each year for itself"},
      "ages that do not overlap, such as 7-8,9-10", read_spans);
  declare_value<runs::Date>(app, "--age-on", request.age_on,
                            {purpose::choice, "DATE", "The day the league age is taken (YYYY-MM-DD)", "the last run"},
                            "a date such as 2026-08-31",
                            [](const std::string& text) { return runs::parse_date(text, runs::DateOrder::iso); });
}

}  // namespace

void declare_standings_choice(Options& app, StandingsRequest& request) {
  declare_order(app, request);
  declare_value<std::size_t>(
      app, "--cut", request.cut,
      {purpose::choice, "K", "Places there are, 1 to 100000: who is in, out, undecided", "no cut"},
      "a whole number from 1 to 100000",
      [](const std::string& text) -> std::optional<std::size_t> { return runs::parse_count(text, 1, 100'000); });
  declare_value<double>(
      app, "--certainty", request.certainty,
      {purpose::choice, "SHARE", "Probability from which a player is in or out, between 0.5 and 0.9999", "0.95"},
      "a number above 0.5, at most 0.9999, such as 0.95", [](const std::string& text) {
        const std::optional<double> value = read_number(text);
        return value && *value > 0.5 && *value <= 0.9999 ? value : std::nullopt;
      });
  declare_value<std::size_t>(
      app, "--next-runs", request.next_runs,
      {purpose::choice, "N", "Share out N further runs where they settle the cut best, 0 to 10000", "0"},
      "a whole number from 0 to 10000",
      [](const std::string& text) -> std::optional<std::size_t> { return runs::parse_count(text, 0, 10'000); });
  declare_value<std::size_t>(
      app, "--most-each", request.most_each,
      {purpose::choice, "N", "Of them at most so many for one player, 1 to 100", "3"}, "a whole number from 1 to 100",
      [](const std::string& text) -> std::optional<std::size_t> { return runs::parse_count(text, 1, 100); });
}

namespace {

void declare(Options& app, Invocation& invocation) {
  StandingsRequest& request = invocation.standings;
  declare_input(app, invocation.input);
  declare_model(app, invocation.input);
  declare_standings_choice(app, request);
  declare_level(app, request.level);
  declare_as_of(app, request.as_of, "Leave out runs after this date (YYYY-MM-DD)");
  declare_window(app, request.window_days);
  declare_value<std::size_t>(
      app, "--draws", request.draws, {purpose::choice, "N", "Joint draws, 100 to 1000000", "4000"},
      "a whole number from 100 to 1000000",
      [](const std::string& text) -> std::optional<std::size_t> { return runs::parse_count(text, 100, most_draws); });
  declare_value<std::uint64_t>(
      app, "--seed", request.seed,
      {purpose::choice, "N", "Seed of the draws, 0 to 4294967295; the answer says which", "20260411"},
      "a whole number from 0 to 4294967295", [](const std::string& text) -> std::optional<std::uint64_t> {
        return runs::parse_count(text, 0, 4'294'967'295U);
      });
  declare_threads(app, request.threads);
  declare_output(app, invocation.output);
}

// "top-speed=2".  @return what is wrong, or nothing.
std::string read_weight(const std::string& text, std::vector<jobs::RankedQuantity>& by) {
  const std::size_t equals = text.rfind('=');
  const double weight = equals != std::string::npos ? read_number(text.substr(equals + 1)).value_or(0.0) : 0.0;
  auto quantity = jobs::ranked_quantity_of(text.substr(0, equals));
  if (!quantity) {
    return "--weight is '" + text + "': not a quantity; there are " +
           known_quantities.substr(0, known_quantities.rfind(" or "));
  }
  if (!(weight > 0.0)) {
    return "--weight is '" + text + "', but must be a quantity and a weight above 0, such as top-speed=2";
  }
  quantity->weight = weight;
  for (const jobs::RankedQuantity& other : by) {
    if (jobs::word_of(other) == jobs::word_of(*quantity)) {
      return "--weight names " + jobs::word_of(other) + " twice";
    }
  }
  by.push_back(*quantity);
  return {};
}

// What to order by.  @return what is wrong, or nothing.
std::string read_by(const StandingsRequest& request, std::vector<jobs::RankedQuantity>& by) {
  const bool index = request.by == "index" || (request.by.empty() && !request.weights.empty());
  if (!index && !request.weights.empty()) {
    return "--weight is for --by index";
  }
  if (index) {
    for (const std::string& weight : request.weights) {
      if (std::string wrong = read_weight(weight, by); !wrong.empty()) {
        return wrong;
      }
    }
    return by.size() >= 2 ? "" : "an index has two parts or more: --weight top-speed=2 --weight reaction=1";
  }
  if (request.by.empty()) {
    by.push_back({});
    return {};
  }
  const auto quantity = jobs::ranked_quantity_of(request.by);
  if (!quantity) {
    const auto nearest = text::nearest(request.by, quantity_words);
    return "--by is '" + request.by + "', but must be " + known_quantities +
           (nearest ? ". Did you mean '" + std::string(*nearest) + "'?" : "");
  }
  by.push_back(*quantity);
  return {};
}

std::string examine(const Invocation& invocation) {
  std::string wrong = wrong_standings_choice(invocation.standings);
  return wrong.empty() ? examine_input(invocation) : wrong;
}

}  // namespace

std::string wrong_standings_choice(const StandingsRequest& request) {
  std::vector<jobs::RankedQuantity> by;
  if (std::string wrong = read_by(request, by); !wrong.empty()) {
    return wrong;
  }
  if (request.next_runs > 0 && !request.cut) {
    return "--next-runs settles a cut: say how many places there are (--cut K)";
  }
  if (request.age_on && !request.age_groups && request.age_spans.empty()) {
    return "--age-on is for --age-groups or --age-spans";
  }
  if (request.ties == jobs::Ties::as_read && request.method != jobs::StandingsMethod::best) {
    return "--ties is for official times: --method best";
  }
  if (request.method == jobs::StandingsMethod::best &&
      (by.size() > 1 || by[0].quantity != jobs::Quantity::time || request.age_adjusted)) {
    return "--method best orders by times as they were read: ask for one time (--by time:MARK@COURSE), not adjusted "
           "for age";
  }
  return {};
}

jobs::StandingsOptions standings_options(const StandingsRequest& request, const Inputs& inputs) {
  jobs::StandingsOptions out;
  read_by(request, out.by);
  out.method = request.method;
  out.ties = request.ties;
  out.age_adjusted = request.age_adjusted;
  out.age_groups = request.age_groups;
  out.age_spans = request.age_spans;
  out.age_on = request.age_on;
  out.cut = request.cut;
  out.certainty = request.certainty;
  out.next_runs = request.next_runs;
  out.most_each = request.most_each;
  out.level = request.level;
  out.as_of = request.as_of;
  out.window_days = request.window_days;
  out.model = inputs.model;
  out.fixed_scales = inputs.own_model;
  out.draws = request.draws;
  out.seed = request.seed;
  out.threads = request.threads;
  return out;
}

void add_idle(const Inputs& inputs, jobs::StandingsResult& result) {
  std::unordered_set<std::string_view> ran;
  for (const runs::Run& run : inputs.log.runs) {
    ran.insert(inputs.log.name(run.player));
  }
  for (const runs::Player& player : inputs.roster.players) {
    if (!ran.contains(player.id)) {
      result.not_ranked.push_back({player.id, "no run in the log"});
      result.first_run.push_back(player.id);
    }
  }
}

namespace {

ExitCode run(const Invocation& invocation, Session& session) {
  ExitCode code = ExitCode::done;
  const std::optional<Inputs> inputs = sound_inputs(invocation, "standings", "no order was made", session, code);
  if (!inputs) {
    return code;
  }
  auto made =
      jobs::standings(inputs->log, inputs->roster, inputs->devices, standings_options(invocation.standings, *inputs));
  if (const auto* refusal = std::get_if<jobs::StandingsRefusal>(&made)) {
    session.say("bagsplit standings: " + text::printable(refusal->why) + "\n");
    return ExitCode::wrong_command_line;
  }
  auto& result = std::get<jobs::StandingsResult>(made);
  add_idle(*inputs, result);
  if (invocation.standings.by.empty() && result.index.empty()) {
    session.say("bagsplit: ordering by " + text::printable(result.by_word) + " (--by)\n");
  }
  if (result.runs_left_out > 0) {
    session.say("bagsplit: " + text::counted(result.runs_left_out, "run") + " left out (bagsplit check tells more)\n");
  }
  if (!inputs->has_roster) {
    session.say("bagsplit: no roster: no ages, and wide priors (--roster FILE)\n");
  }
  const Format format = invocation.output.format;
  const std::string answer = format == Format::json ? present::standings_json(result)
                             : format == Format::csv
                                 ? present::standings_csv(result)
                                 : present::standings_text(result, text_options(invocation.output, session.terminal));
  if (code = deliver(answer, invocation.output, session); code != ExitCode::done) {
    return code;
  }
  if (!result.certified) {
    session.say("bagsplit: the computation would not settle for some players; they are not in the order\n");
    return ExitCode::not_certified;
  }
  return ExitCode::done;
}

}  // namespace

extern const Command standings_command;
const Command standings_command{
    "standings",
    "Evaluation day: the order with how sure it is, who is in at a cut, and who should run again.",
    "bagsplit standings demo --by time:first@home-first --cut 6 --next-runs 10\n"
    "bagsplit standings day.csv --by top-speed --age-spans 7-8,9-10 --cut 12",
    "README.md, jobs.md (the definitions), schemas/standings.schema.json (the JSON).",
    declare,
    examine,
    run,
};

}  // namespace bagsplit::cli
