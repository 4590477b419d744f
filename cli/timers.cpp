#include <string_view>

#include "bagsplit/jobs/timers/timers.hpp"
#include "bagsplit/present/timers_report.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/text_width.hpp"
#include "bagsplit/timing/device_writer.hpp"
#include "command_line.hpp"
#include "declare.hpp"
#include "input.hpp"
#include "session.hpp"
#include "targets.hpp"

namespace bagsplit::cli {

namespace {

void declare(Options& app, Invocation& invocation) {
  TimersRequest& request = invocation.timers;
  declare_input(app, invocation.input);
  declare_list(
      app, "--device", invocation.input.devices,
      {purpose::input, "FILE", "What is known of your watches, gates or cameras (JSON); may be given several times",
       "the built-in ones"});
  declare_text(app, "--mark",
               {purpose::choice, "NAME", "Compare times at this mark only: first, 20m",
                "on each run the farthest mark that both timed"},
               [&request](const std::string& text) { request.mark = text; });
  declare_level(app, request.level);
  declare_output(app, invocation.output);
  declare_text(app, "--write-device",
               {purpose::output, "FILE", "Write what is now known of each timer, for --device of other commands (JSON)",
                "not written"},
               [&request](const std::string& text) { request.write_device = text; });
}

std::string examine(const Invocation& invocation) {
  if (const auto& file = invocation.timers.write_device) {
    if (file->empty()) {
      return "a file's name is empty";
    }
    if (is_same_place(*file, invocation.output.output)) {
      return "--write-device and --output name the same file";
    }
  }
  return examine_input(invocation);
}

// The name a profile goes by: that of its file.
std::string name_of(const std::optional<std::string>& file) {
  if (!file || *file == "-") {
    return "own-watches";
  }
  std::string name = file->substr(file->rfind('/') + 1);
  if (name.ends_with(".json")) {
    name.resize(name.size() - 5);
  }
  return name.empty() ? "own-watches" : text::printable(name);
}

ExitCode run(const Invocation& invocation, Session& session) {
  ExitCode code = ExitCode::done;
  const std::optional<Inputs> read = sound_inputs(invocation, "timers", "no timers were compared", session, code);
  if (!read) {
    return code;
  }
  const Inputs& inputs = *read;
  const TimersRequest& request = invocation.timers;
  jobs::TimersOptions options;
  options.mark = request.mark;
  options.level = request.level;
  options.profile_name = name_of(request.write_device);
  const jobs::TimersResult result = jobs::timers(inputs.log, inputs.devices, options);
  if (result.runs_left_out > 0) {
    session.say("bagsplit: " + text::counted(result.runs_left_out, "flagged run") + " left out\n");
  }
  const Format format = invocation.output.format;
  const std::string answer = format == Format::json ? present::timers_json(result)
                             : format == Format::csv
                                 ? present::timers_csv(result)
                                 : present::timers_text(result, text_options(invocation.output, session.terminal));
  if (code = deliver(answer, invocation.output, session); code != ExitCode::done) {
    return code;
  }
  if (!request.write_device) {
    return ExitCode::done;
  }
  if (!result.profile) {
    session.say("bagsplit: no device profile was written: no named hand timer shares a run with another reading\n");
    return ExitCode::done;
  }
  OutputOptions to;
  to.output = *request.write_device;
  if (code = deliver(timing::write_device(*result.profile), to, session); code != ExitCode::done) {
    return code;
  }
  session.say("bagsplit: wrote " + text::printable(*request.write_device) + "; use it with --device\n");
  return ExitCode::done;
}

}  // namespace

extern const Command timers_command;
const Command timers_command{
    "timers",
    "How well times agree: stopwatch against gates, timer against timer, on the same runs.",
    "bagsplit timers demo\n"
    "bagsplit timers gate-night.csv --write-device our-watches.json",
    "README.md, jobs.md (the definitions), schemas/timers.schema.json (the JSON), "
    "schemas/device.schema.json (the device profile).",
    declare,
    examine,
    run,
};

}  // namespace bagsplit::cli
