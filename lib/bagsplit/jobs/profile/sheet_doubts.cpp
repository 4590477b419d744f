#include "bagsplit/jobs/profile/sheet_doubts.hpp"

#include <algorithm>
#include <cmath>
#include <set>
#include <utility>

#include "bagsplit/jobs/profile/detail/row_doubts.hpp"
#include "bagsplit/stats/random.hpp"
#include "bagsplit/text/number_text.hpp"

namespace bagsplit::jobs {

namespace {

constexpr double slips_where_unsaid = 0.01;  // of the marks, as inference/prior/model.hpp counts them
constexpr double scatter_beyond_sds = 2.2;   // of what is thought of it before: two and a half times the usual
constexpr double watch_beyond_sds = 3.0;

std::string scatter_note(const inference::SquadModel& squad) {
  const inference::Normal before = inference::scale_priors().log_effort_cv;
  const double scatter = squad.fit.log_effort_cv.mean;
  if (scatter < before.mean + scatter_beyond_sds * before.sd) {
    return {};
  }
  return "Run-to-run scatter of " + text::fixed(100.0 * std::exp(scatter), 0) + " % is " +
         text::fixed(std::exp(scatter - before.mean), 1) +
         " times the usual: is a drill typed with the wrong posture or distance, or did some not run in earnest?";
}

std::vector<std::string> watch_notes(const inference::SquadModel& squad) {
  std::vector<std::string> out;
  for (std::uint32_t k = 0; k < squad.shared.size(); ++k) {
    const inference::SharedQuantity& quantity = squad.shared[k];
    const bool of_watch = quantity.kind == inference::SharedQuantity::Kind::term &&
                          (quantity.term.kind == inference::TermKind::bias_shared ||
                           quantity.term.kind == inference::TermKind::bias_timer);
    const double off_s = squad.fit.shared(k).mean - quantity.prior.mean;
    if (of_watch && std::fabs(off_s) > watch_beyond_sds * quantity.prior.sd) {
      out.push_back("All times of " + quantity.term.name + " look " + text::fixed(std::fabs(off_s), 1) + " s too " +
                    (off_s > 0.0 ? "long" : "short") +
                    ", more than such a watch is ever off: is its device, or what started it, typed right?");
    }
  }
  return out;
}

// One entry a run: what names it better comes first.
std::vector<SuspectedReading> all_of(const runs::RunLog& log, std::span<const DoubtedChild> children,
                                     std::vector<SuspectedReading> rows, const std::vector<bool>& done,
                                     const std::map<runs::NameId, double>& mixed_up) {
  std::set<std::pair<std::string, std::uint32_t>> told;
  for (std::size_t r = 0; r < log.runs.size(); ++r) {
    for (const runs::Reading& reading : log.readings_of(log.runs[r])) {
      if (done[r]) {
        told.emplace(log.files[reading.file], reading.line);
      }
    }
  }
  for (const DoubtedChild& child : children) {
    std::vector<SuspectedReading> cells = child.cells;
    allow_for_swaps(mixed_up, child.id, cells);
    for (SuspectedReading& cell : cells) {
      if (!told.contains({cell.file, cell.line})) {
        rows.push_back(std::move(cell));
      }
    }
  }
  std::stable_sort(rows.begin(), rows.end(), [](const SuspectedReading& a, const SuspectedReading& b) {
    return std::pair(a.file, a.line) < std::pair(b.file, b.line);
  });
  return rows;
}

}  // namespace

void allow_for_swaps(const std::map<runs::NameId, double>& mixed_up, runs::NameId player,
                     std::vector<SuspectedReading>& readings) {
  // Below that the slips stand: two children with a slip each often look like a swap.
  constexpr double no_other_way = 0.95;
  const auto found = mixed_up.find(player);
  if (found == mixed_up.end() || found->second < no_other_way) {
    return;
  }
  for (SuspectedReading& reading : readings) {
    if (reading.kind != "decimal" && reading.kind != "minutes") {
      reading.probability *= 1.0 - found->second;
    }
  }
  std::erase_if(readings, [](const SuspectedReading& reading) { return reading.probability < maybe_suspected; });
}

SheetDoubts doubt_sheet(const runs::RunLog& log, const runs::Roster& roster, const timing::DeviceBook& devices,
                        const SheetOptions& options) {
  SheetDoubts out;
  ProfileOptions profile_options;
  profile_options.threads = options.threads;
  profile_options.model = options.model;
  if (!profile_options.model.error.slip && !inference::default_model().error.slip) {
    profile_options.model.error.slip = inference::SlipPrior{.rate = slips_where_unsaid};
  }
  inference::ModelFile but_slips = profile_options.model;
  but_slips.error.slip.reset();
  const RunsByPlayer by_player(log);
  if (log.readings.size() > most_to_compare || !(but_slips == inference::ModelFile{})) {
    return out;
  }
  std::vector<inference::Selection> selections;
  std::size_t with_runs = 0;
  for (const std::vector<std::uint32_t>& runs : by_player.runs) {
    selections.push_back(inference::select_runs(log, runs, std::nullopt, std::nullopt));
    with_runs += selections.back().used.empty() ? 0U : 1U;
  }
  if (with_runs < fewest_to_compare) {
    return out;
  }
  const inference::SegmentNames segments(log);
  const norms::Catalogue none;
  ProfileJob job = job_of(log, roster, devices, none, profile_options, segments);
  const auto squad = squad_of(job, by_player.players, selections, options.threads);
  if (!squad) {
    return out;
  }
  job.squad = &*squad;
  std::vector<std::size_t> able;
  for (std::size_t i = 0; i < selections.size(); ++i) {
    if (!selections[i].used.empty()) {
      able.push_back(i);
    }
  }
  const ChildEvidence evidence(job, *squad);
  std::vector<DoubtedChild> children(able.size());
  stats::for_each_index(able.size(), options.threads, [&](std::size_t k) {
    children[k] = evidence.child(by_player.players[able[k]], selections[able[k]]);
  });
  return doubt_rows(job, children);
}

SheetDoubts doubt_rows(const ProfileJob& job, std::span<const DoubtedChild> children) {
  SheetDoubts out;
  const ChildEvidence evidence(job, *job.squad);
  std::vector<bool> done(job.log.runs.size(), false);
  std::vector<SuspectedReading> rows = doubt_drills(job, children, done);
  for (auto& more :
       {doubt_postures(job, evidence, children, done), doubt_owners(job, evidence, children, done, out.mixed_up)}) {
    rows.insert(rows.end(), more.begin(), more.end());
  }
  if (rows.empty()) {  // a wrong drill or row shows in these, too
    out.notes = watch_notes(*job.squad);
    if (std::string note = scatter_note(*job.squad); !note.empty()) {
      out.notes.push_back(std::move(note));
    }
  }
  for (std::size_t r = 0; r < done.size(); ++r) {
    if (done[r]) {
      out.start_in_doubt.insert(job.log.runs[r].player);
    }
  }
  for (SuspectedReading& reading : all_of(job.log, children, std::move(rows), done, out.mixed_up)) {
    (reading.probability >= surely_suspected ? out.surely : out.maybe).push_back(std::move(reading));
  }
  out.slip_rate = job.squad->fit.slip_rate;
  return out;
}

}  // namespace bagsplit::jobs
