#include "bagsplit/present/plan_report.hpp"

#include <algorithm>
#include <cmath>

#include "bagsplit/jobs/fast_end.hpp"
#include "bagsplit/safety/safety.hpp"
#include "bagsplit/text/csv_writer.hpp"
#include "bagsplit/text/json_writer.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/text_table.hpp"

namespace bagsplit::present {

namespace {

using jobs::Wanted;
using Layout = text::JsonWriter::Layout;

struct Name {
  const char* heading;
  const char* unit;
  int digits;
};

Name name_of(Wanted wanted) {
  switch (wanted) {
    case Wanted::reaction:
      return {"reaction", "s", 3};
    case Wanted::time_constant:
      return {"time constant", "s", 3};
    case Wanted::top_speed:
      return {"top speed", "m/s", 2};
    case Wanted::acceleration:
      return {"first accel.", "m/s2", 2};
    case Wanted::home_first:
      return {"home-first", "s", 3};
    case Wanted::losses:
      return {"loss at a bag", "s", 3};
  }
  return {"", "", 2};
}

std::string runs_words(const jobs::NightPlan& night, const jobs::Mix& mix) {
  std::string out;
  for (std::size_t d = 0; d < mix.runs.size(); ++d) {
    if (mix.runs[d] > 0) {
      out += (out.empty() ? "" : ", ") + std::to_string(mix.runs[d]) + " " + night.drills[d].name;
    }
  }
  return out.empty() ? "no run fits" : out;
}

// What each mix of drills would leave unknown, beside what is unknown before.
std::string mixes_table(const jobs::NightPlan& night, const text::TextOptions& options) {
  const jobs::NightQuestion& q = night.question;
  std::vector<text::TextTable::Column> columns{{"night", "", text::Align::left},
                                               {"runs", "a player", text::Align::left}};
  for (const Wanted wanted : q.wanted) {
    columns.push_back({name_of(wanted).heading, name_of(wanted).unit});
  }
  text::TextTable table(columns);
  std::vector<std::string> row{"before any run", ""};
  for (std::size_t w = 0; w < q.wanted.size(); ++w) {
    row.push_back(text::fixed(night.prior_sd[w], name_of(q.wanted[w]).digits));
  }
  table.add_row(row);
  for (const jobs::Mix& mix : night.mixes) {
    row = {mix.name, runs_words(night, mix)};
    for (std::size_t w = 0; w < q.wanted.size(); ++w) {
      row.push_back(text::fixed(mix.expected_sd[w], name_of(q.wanted[w]).digits));
    }
    table.add_row(row);
  }
  return "\nExpected uncertainty (SD) of one player's values:\n" + table.str(options);
}

std::string checked_mixes(const jobs::NightPlan& night, const text::TextOptions& options) {
  const jobs::NightQuestion& q = night.question;
  std::string out;
  for (const jobs::Mix& mix : night.mixes) {
    if (!mix.simulated_sd.empty() && mix.simulated_sd.front()) {
      std::string words = "Checked with " + text::counted(q.simulated, "simulated player") + " (seed " +
                          std::to_string(q.seed) + "), " + mix.name + ": ";
      for (std::size_t w = 0; w < q.wanted.size(); ++w) {
        words += (w == 0 ? "" : ", ") + std::string(name_of(q.wanted[w]).heading) + " " +
                 text::fixed(*mix.simulated_sd[w], name_of(q.wanted[w]).digits) + " " + name_of(q.wanted[w]).unit;
      }
      out += text::paragraph(words + ".", options.width);
    }
  }
  return out;
}

std::string limits_of_mixes(const jobs::NightPlan& night, const text::TextOptions& options) {
  const jobs::NightQuestion& q = night.question;
  std::string out;
  for (const jobs::Mix& mix : night.mixes) {
    if (mix.minutes > q.minutes + 0.05) {
      out += text::paragraph(
          "\"" + mix.name + "\" takes " + text::fixed(std::ceil(mix.minutes), 0) + " minutes, more than there are.",
          options.width, "- ");
    }
    std::string little;
    for (std::size_t w = 0; w < q.wanted.size(); ++w) {
      if (mix.expected_sd[w] > 0.75 * night.prior_sd[w]) {
        little += (little.empty() ? "" : ", ") + std::string(name_of(q.wanted[w]).heading);
      }
    }
    if (!little.empty()) {
      out += text::paragraph("A night of \"" + mix.name + "\" tells little of: " + little + ".", options.width, "- ");
    }
  }
  return out;
}

std::string night_part(const jobs::NightPlan& night, const text::TextOptions& options) {
  const jobs::NightQuestion& q = night.question;
  std::string out = text::heading("The most telling night", options);
  if (!night.least_rest_s) {
    const auto shortest_drill = std::min_element(night.drills.begin(), night.drills.end(),
                                                 [](const auto& a, const auto& b) { return a.lane_s < b.lane_s; });
    return out + text::paragraph(
                     "In " + text::fixed(q.minutes, 0) + " minutes no run of each of " +
                         text::counted(q.players, "player") + " fits: one " + shortest_drill->name + " each takes " +
                         text::fixed(std::ceil(shortest_drill->lane_s * static_cast<double>(q.players) / 60.0), 0) +
                         " minutes. Ask for more minutes or fewer players.",
                     options.width);
  }
  out += text::paragraph(
      "In " + text::fixed(q.minutes, 0) + " minutes, " + text::counted(q.players, "player") + ", " +
          (q.watches > 0 ? text::counted(q.watches, "watch", "watches") + " on each run" : std::string("no watch")) +
          (q.gates ? ", gates" : "") + ": for each player " + runs_words(night, night.mixes.front()) + ".",
      options.width);
  const std::vector<std::size_t>& runs = night.mixes.front().runs;
  if (!q.drills.empty() && std::count(runs.begin(), runs.end(), 0U) > 0) {
    double once_s = 0.0;
    for (const jobs::Drill& drill : night.drills) {
      once_s += drill.lane_s * static_cast<double>(q.players);
    }
    out += text::paragraph("Each of the drills once would take " + text::fixed(std::ceil(once_s / 60.0), 0) +
                               " minutes: ask for more, or for fewer drills.",
                           options.width);
  }
  for (std::size_t d = 0; d < night.drills.size(); ++d) {
    if (night.mixes.front().runs[d] > 0) {
      const std::string& words = night.drills[d].words;
      out += text::paragraph(night.drills[d].name + ": " + words + (words.ends_with('.') ? " " : "; ") +
                                 text::fixed(night.slower * night.drills[d].lane_s, 0) +
                                 " s from one run on the lane to the next.",
                             options.width, "- ");
    }
  }
  out += mixes_table(night, options) + checked_mixes(night, options) + limits_of_mixes(night, options);
  out += text::paragraph(
      "Each player rests about " + text::fixed(*night.least_rest_s, 0) +
          " s between two runs: the runs are spread over the time given. The warm-up comes before and is not in it.",
      options.width);
  return out;
}

std::string runs_part(const Plan& plan, const text::TextOptions& options) {
  const jobs::RunsQuestion& q = *plan.question;
  std::string out = text::heading("How many runs", options);
  out += text::paragraph(plan.spread_from, options.width);
  const auto words = [](const std::optional<std::size_t>& n, const char* unit) {
    return n ? text::counted(*n, unit) : std::string("more than a million ") + unit + "s";
  };
  const auto too_many = [&](const std::optional<std::size_t>& runs, const std::optional<std::size_t>& evenings,
                            const char* each) {
    return runs && *evenings <= 1 ? std::string()
                                  : " Not in one night, and not for a child to run: ask for less." +
                                        (evenings ? " With " + std::to_string(safety::most_sprints_an_evening) +
                                                        " sprints an evening it would be " +
                                                        text::counted(*evenings, "evening") + each + "."
                                                  : std::string());
  };
  if (q.half_width_s) {
    out +=
        text::paragraph("For a " + text::percent(q.level) + " interval of tonight's mean no wider than " +
                            text::fixed(*q.half_width_s, 3) +
                            " s to each side: " + words(plan.needed.for_half_width, "run") + " a player." +
                            too_many(plan.needed.for_half_width, plan.needed.evenings_for_half_width,
                                     ", and their mean no longer tonight's") +
                            (plan.needed.evenings_for_half_width == 1
                                 ? ""
                                 : " An evening's " + std::to_string(safety::most_sprints_an_evening) +
                                       " tell it to +-" + text::fixed(*plan.needed.half_width_of_evening_s, 3) + " s."),
                        options.width, "- ");
  }
  if (q.change_s) {
    out += text::paragraph(
        "For a change of " + text::fixed(*q.change_s, 3) +
            " s beyond growing to be told as probable with a chance of " + text::percent(q.power) + ": " +
            words(plan.needed.for_change, "run") +
            " a player before and as many after, if nothing but the run's own scatter were in the way." +
            too_many(plan.needed.for_change, plan.needed.evenings_for_change, " before and as many after"),
        options.width, "- ");
    if (q.day_sd_s) {
      out += text::paragraph(
          "With the form of the day (SD " + text::fixed(*q.day_sd_s, 3) +
              " s), which more runs on one night do not average out: " + words(plan.needed.nights_for_change, "night") +
              " of three runs before and as many after.",
          options.width, "- ");
    }
  }
  return out;
}

// Of drills by name what they call for.
std::vector<std::string> cautions_of(const Plan& plan) {
  std::vector<std::string> out = {
      safety::sprint_caution(plan.fastest_mps.value_or(jobs::fast_end_mps(std::nullopt, std::nullopt)))};
  const auto& drills = plan.night ? plan.night->question.drills : std::vector<jobs::NamedDrill>();
  const auto any = [&](auto&& is) { return std::any_of(drills.begin(), drills.end(), is); };
  if (drills.empty() ||
      any([](const jobs::NamedDrill& named) { return named.drill.posture == runs::Posture::prone; })) {
    out.push_back(safety::words(safety::Caution::prone));
  }
  if (any([](const jobs::NamedDrill& named) { return named.course.is_base_path(); })) {
    out.push_back(safety::words(safety::Caution::bags) + " " + safety::words(safety::Caution::one_runner));
  }
  if (!drills.empty()) {
    out.push_back("What is raced on the same evening, in heats or a relay, counts among the " +
                  std::to_string(safety::most_sprints_an_evening) + " sprints.");
  }
  return out;
}

}  // namespace

std::string plan_text(const Plan& plan, const text::TextOptions& options) {
  std::string out;
  if (plan.night) {
    out += night_part(*plan.night, options);
  }
  if (plan.question) {
    out += (out.empty() ? "" : "\n") + runs_part(plan, options);
  }
  return out + "\n" + text::heading("Caution", options) + text::listed(cautions_of(plan), options.width);
}

std::string plan_csv(const Plan& plan) {
  text::CsvWriter csv;
  for (const char* name : {"mix", "minutes", "runs", "quantity", "sd_before", "sd_expected", "sd_simulated"}) {
    csv.text(name);
  }
  csv.end_row();
  if (plan.night) {
    for (const jobs::Mix& mix : plan.night->mixes) {
      for (std::size_t w = 0; w < plan.night->question.wanted.size(); ++w) {
        csv.text(mix.name).number(mix.minutes).text(runs_words(*plan.night, mix));
        csv.text(jobs::wanted_name(plan.night->question.wanted[w])).number(plan.night->prior_sd[w]);
        csv.number(mix.expected_sd[w]).number(mix.simulated_sd[w]).end_row();
      }
    }
  }
  return csv.take();
}

namespace {

void write_night(const jobs::NightPlan& night, text::JsonWriter& json) {
  const jobs::NightQuestion& q = night.question;
  json.begin_object()
      .member("minutes", q.minutes)
      .member("players", std::uint64_t{q.players})
      .member("watches", std::uint64_t{q.watches})
      .member("gates", q.gates)
      .member("seed", q.seed)
      .member("simulated_players", std::uint64_t{q.simulated})
      .member("least_rest_s", night.least_rest_s);
  json.key("drills").begin_array();
  for (const jobs::Drill& drill : night.drills) {
    json.begin_object()
        .member("drill", drill.name)
        .member("words", drill.words)
        .member("lane_s", drill.lane_s)
        .member("run_s", drill.run_s)
        .end_object();
  }
  json.end_array();
  json.key("sd_before").begin_object(Layout::line);
  for (std::size_t w = 0; w < q.wanted.size(); ++w) {
    json.member(jobs::wanted_name(q.wanted[w]), night.prior_sd[w]);
  }
  json.end_object();
  json.key("mixes").begin_array();
  for (const jobs::Mix& mix : night.mixes) {
    json.begin_object().member("mix", mix.name).member("minutes", mix.minutes);
    json.key("runs").begin_object(Layout::line);
    for (std::size_t d = 0; d < mix.runs.size(); ++d) {
      json.member(night.drills[d].name, std::uint64_t{mix.runs[d]});
    }
    json.end_object();
    json.key("sd_expected").begin_object(Layout::line);
    for (std::size_t w = 0; w < q.wanted.size(); ++w) {
      json.member(jobs::wanted_name(q.wanted[w]), mix.expected_sd[w]);
    }
    json.end_object();
    json.key("sd_simulated").begin_object(Layout::line);
    for (std::size_t w = 0; w < q.wanted.size(); ++w) {
      json.member(jobs::wanted_name(q.wanted[w]), mix.simulated_sd[w]);
    }
    json.end_object().end_object();
  }
  json.end_array().end_object();
}

void write_runs_needed(const Plan& plan, text::JsonWriter& json) {
  const auto count = [&](const char* name, const std::optional<std::size_t>& n) {
    json.key(name);
    if (n) {
      json.count(*n);
    } else {
      json.null();
    }
  };
  json.begin_object()
      .member("run_sd_s", plan.question->run_sd_s)
      .member("day_sd_s", plan.question->day_sd_s)
      .member("spread_from", plan.spread_from)
      .member("half_width_s", plan.question->half_width_s)
      .member("change_s", plan.question->change_s)
      .member("power", plan.question->power)
      .member("level", plan.question->level);
  count("runs_for_half_width", plan.needed.for_half_width);
  count("runs_for_change", plan.needed.for_change);
  count("nights_for_change", plan.needed.nights_for_change);
  json.member("most_runs_an_evening", std::uint64_t{safety::most_sprints_an_evening});
  count("evenings_for_half_width", plan.needed.evenings_for_half_width);
  count("evenings_for_change", plan.needed.evenings_for_change);
  json.member("half_width_of_evening_s", plan.needed.half_width_of_evening_s);
  json.end_object();
}

}  // namespace

std::string plan_json(const Plan& plan) {
  text::JsonWriter json;
  json.begin_object().member("schema", "bagsplit.plan/1");
  json.key("night");
  if (plan.night) {
    write_night(*plan.night, json);
  } else {
    json.null();
  }
  json.key("runs_needed");
  if (plan.question) {
    write_runs_needed(plan, json);
  } else {
    json.null();
  }
  json.end_object();
  return json.take();
}

}  // namespace bagsplit::present
