
#include "bagsplit/present/norms_report.hpp"
#include "bagsplit/present/priors_report.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/runs/units.hpp"
#include "bagsplit/text/text.hpp"
#include "command_line.hpp"
#include "declare.hpp"
#include "session.hpp"

namespace bagsplit::cli {

namespace {

std::optional<double> read_distance_m(const std::string& text) {
  const std::optional<double> metres = runs::parse_length_m(text);
  return metres && *metres > 0.0 && *metres <= 1000.0 ? metres : std::nullopt;
}

std::optional<double> read_age(const std::string& text) {
  const std::optional<double> age = read_number(text);
  return age && *age >= 0.0 && *age <= 120.0 ? age : std::nullopt;
}

std::optional<double> read_time_s(const std::string& text) {
  const std::optional<double> time = runs::parse_time_s(text, true);
  return time && *time > 0.0 ? time : std::nullopt;
}

std::optional<norms::Clock> read_clock(const std::string& text) {
  return text == "signal"       ? std::optional(norms::Clock::signal)
         : text == "first-move" ? std::optional(norms::Clock::first_move)
         : text == "as-norm"    ? std::optional(norms::Clock::as_norm)
                                : std::nullopt;
}

void declare(Options& app, Invocation& invocation) {
  NormsRequest& request = invocation.norms;
  declare_value<double>(app, "--distance", request.distance_m,
                        {purpose::choice, "LENGTH", "Look a time up: the distance run, with its unit (20m, 60ft, 20yd)",
                         "none: list the sources"},
                        "a length above 0 with its unit, such as 20m or 60ft", read_distance_m);
  declare_value<double>(
      app, "--time", request.time_s,
      {purpose::choice, "TIME", "The time to look up: seconds, or minutes and seconds", "none: list the sources"},
      "a time above 0, such as 4.3 or 1:04.3", read_time_s);
  declare_value<double>(
      app, "--age", request.age_years,
      {purpose::choice, "YEARS", "Age at the test in years, with its fraction, 0 to 120", "none: no percentile"},
      "a number of years from 0 to 120", read_age);
  declare_sex(app, request.sex, "Sex as the references split it", "none: no percentile");
  declare_value<norms::Clock>(
      app, "--clock", request.clock,
      {purpose::choice, "signal|first-move|as-norm",
       "What started the clock: signal, first-move (also a gate), or as-norm: as each reference had it", "as-norm"},
      "signal, first-move or as-norm", read_clock);
  declare_switch(
      app, "--priors", request.priors,
      {purpose::choice, "", "What is believed of a player before any run, by age and sex, and how it was derived", ""});
  declare_output(app, invocation.output);
}

std::string examine(const Invocation& invocation) {
  const NormsRequest& request = invocation.norms;
  const bool looks_up = request.distance_m || request.time_s || request.age_years || request.sex ||
                        request.clock != norms::Clock::as_norm;
  if (request.priors && looks_up) {
    return "--priors stands alone; it takes no --distance, --time, --age, --sex or --clock";
  }
  if (looks_up && !(request.distance_m && request.time_s)) {
    return "a time is looked up with both --distance and --time";
  }
  return {};
}

std::string answer_text(const Invocation& invocation, const text::TextOptions& options) {
  const NormsRequest& request = invocation.norms;
  const Format format = invocation.output.format;
  if (request.priors) {
    return format == Format::text  ? present::priors_text(inference::prior_fit(), options)
           : format == Format::csv ? present::priors_csv()
                                   : present::priors_json(inference::prior_fit());
  }
  const norms::Catalogue catalogue = norms::Catalogue::builtin();
  if (!request.distance_m) {
    return format == Format::text  ? present::norms_text(catalogue, options)
           : format == Format::csv ? present::norms_csv(catalogue)
                                   : present::norms_json(catalogue);
  }
  const present::Lookup lookup{
      *request.distance_m,
      request.age_years,
      request.sex,
      *request.time_s,
      request.clock,
      catalogue.lookup(*request.distance_m, request.age_years, request.sex, *request.time_s, request.clock)};
  return format == Format::text  ? present::lookup_text(lookup, options)
         : format == Format::csv ? present::lookup_csv(lookup)
                                 : present::lookup_json(lookup);
}

ExitCode run(const Invocation& invocation, Session& session) {
  return deliver(answer_text(invocation, text_options(invocation.output, session.terminal)), invocation.output,
                 session);
}

}  // namespace

extern const Command norms_command;
const Command norms_command{
    "norms",
    "List the published references, or look one time up in them.",
    "bagsplit norms\n"
    "bagsplit norms --distance 20m --age 8.6 --sex F --time 4.3 --clock signal",
    "README.md (the tables), norms.md (percentiles), priors.md (priors).",
    declare,
    examine,
    run,
};

}  // namespace bagsplit::cli
