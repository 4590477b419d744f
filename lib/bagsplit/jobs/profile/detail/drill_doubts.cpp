#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "bagsplit/jobs/profile/detail/row_doubts.hpp"

namespace bagsplit::jobs {

namespace {

constexpr double worth_a_toggle = 0.05;     // chance of any slip in a run whose posture may be wrong
constexpr double worth_a_fit = -15.0;       // log odds with each child by itself; a fit of the squad may find this much
constexpr std::size_t fewest_of_drill = 3;  // children
constexpr std::size_t fewest_others = 5;    // runs of a drill beside one that alone is typed otherwise

// A straight timed from rest, standing or prone.
bool has_posture(const runs::RunLog& log, const runs::Run& run) {
  const auto readings = log.readings_of(run);
  return !log.courses[run.course].is_base_path() &&
         (run.posture == runs::Posture::standing || run.posture == runs::Posture::prone) &&
         std::none_of(readings.begin(), readings.end(), [](const runs::Reading& reading) {
           return reading.start == runs::StartKind::beam || reading.start == runs::StartKind::contact ||
                  reading.checked;
         });
}

runs::Posture other_posture(runs::Posture posture) {
  return posture == runs::Posture::prone ? runs::Posture::standing : runs::Posture::prone;
}

// Runs of one drill: course, date, place and marks.
std::string drill_of(const runs::RunLog& log, const runs::Run& run) {
  std::string key = std::to_string(run.date.time_since_epoch().count()) + " " + std::to_string(run.course) + " " +
                    std::to_string(run.place);
  for (const runs::Split& split : log.splits_of(log.readings_of(run).front())) {
    key += " " + std::to_string(split.mark);
  }
  return key;
}

// How many runs of each drill are typed standing and prone.
using PosturesOfDrills = std::map<std::string, std::map<runs::Posture, std::size_t>>;

PosturesOfDrills postures_of_drills(const runs::RunLog& log, std::span<const DoubtedChild> children) {
  PosturesOfDrills out;
  for (const DoubtedChild& child : children) {
    for (const std::uint32_t number : child.selection->used) {
      if (has_posture(log, log.runs[number])) {
        ++out[drill_of(log, log.runs[number])][log.runs[number].posture];
      }
    }
  }
  return out;
}

struct Drill {
  std::vector<std::uint32_t> runs;
  std::set<runs::NameId> children;
  bool mixed = false;
};

ProfileJob with_log(const ProfileJob& job, const runs::RunLog& log) {
  return {log,          job.roster,   job.devices,    job.norms, job.options,
          job.segments, job.defaults, job.best_paths, job.squad, job.ages_alike};
}

SuspectedReading posture_of(const ProfileJob& job, std::uint32_t run, double probability) {
  SuspectedReading out = about_run(job.log, run, "posture", probability);
  const bool prone = job.log.runs[run].posture == runs::Posture::prone;
  const inference::Normal cost = inference::sprint_prior(std::nullopt, std::nullopt).posture_cost_s.at("prone");
  out.size_s = prone ? -cost.mean : cost.mean;  // prone typed: run standing, and too short for it
  out.expected_s = out.read_s - out.size_s;
  out.expected_sd_s = cost.sd;
  return out;
}

class DrillDoubts {
 public:
  DrillDoubts(const ProfileJob& job, std::span<const DoubtedChild> children, std::vector<bool>& done)
      : job_(job), children_(children), done_(done), toggled_(job.log), other_job_(with_log(job, toggled_)) {}

  std::vector<SuspectedReading> find() {
    std::vector<SuspectedReading> out;
    for (const auto& [key, drill] : drills()) {
      if (drill.mixed || drill.children.size() < fewest_of_drill) {
        continue;
      }
      toggle(drill);
      if (each_alone(drill) > worth_a_fit) {
        const double log_odds = fitted(other_job_) - as_logged() + std::log(chance_of_wrong_drill);
        const double probability = 1.0 / (1.0 + std::exp(-log_odds));
        if (probability >= maybe_suspected) {
          SuspectedReading& made = out.emplace_back(posture_of(job_, drill.runs.front(), probability));
          made.player.clear();
          made.drill = drill.runs.size();
          for (const std::uint32_t run : drill.runs) {
            done_[run] = true;
          }
        }
      }
      toggle(drill);
    }
    return out;
  }

 private:
  std::map<std::string, Drill> drills() const {
    std::map<std::string, Drill> out;
    for (const DoubtedChild& child : children_) {
      for (const std::uint32_t number : child.selection->used) {
        const runs::Run& run = job_.log.runs[number];
        if (!has_posture(job_.log, run)) {
          continue;
        }
        Drill& drill = out[drill_of(job_.log, run)];
        drill.mixed = drill.mixed || (!drill.runs.empty() && job_.log.runs[drill.runs.front()].posture != run.posture);
        drill.runs.push_back(number);
        drill.children.insert(run.player);
      }
    }
    for (auto& [key, drill] : out) {
      std::sort(drill.runs.begin(), drill.runs.end(), [&](auto a, auto b) {
        return job_.log.readings_of(job_.log.runs[a]).front().line <
               job_.log.readings_of(job_.log.runs[b]).front().line;
      });
    }
    return out;
  }

  void toggle(const Drill& drill) {
    for (const std::uint32_t run : drill.runs) {
      toggled_.runs[run].posture = other_posture(toggled_.runs[run].posture);
    }
  }

  static double alone_evidence(const ProfileJob& job, const DoubtedChild& child) {
    Prepared prepared = prepare(job, child.id, *child.selection);
    inference::PlayerData data = inference::alone(prepared.assembled);
    data.slips.rate = 0.0;
    prepared.loss_means.regrid(data);
    return inference::Posterior(data, prepared.loss_means.callback(), {.coarse = true, .near = std::nullopt})
        .log_evidence();
  }

  // A quick look: log odds with nothing in common among the children.
  double each_alone(const Drill& drill) const {
    double sum = 0.0;
    for (const DoubtedChild& child : children_) {
      if (drill.children.contains(child.id)) {
        sum += alone_evidence(other_job_, child) - alone_evidence(job_, child);
      }
    }
    return sum;
  }

  // Log evidence of the squad's fit, at the mode of its scales.
  double fitted(const ProfileJob& job) const {
    std::vector<inference::SquadPlayer> players;
    for (const DoubtedChild& child : children_) {
      if (job_.squad->members.contains(child.id)) {
        Prepared prepared = prepare(job, child.id, *child.selection);
        players.push_back({child.id, std::move(prepared.assembled), std::move(prepared.loss_means)});
      }
    }
    return inference::fit_squad_model(players, 1, job.options.threads, inference::squad_seed).fit.log_evidence;
  }

  double as_logged() {
    as_logged_ = as_logged_ ? as_logged_ : fitted(job_);
    return *as_logged_;
  }

  const ProfileJob& job_;
  std::span<const DoubtedChild> children_;
  std::vector<bool>& done_;
  runs::RunLog toggled_;
  ProfileJob other_job_;
  std::optional<double> as_logged_;
};

}  // namespace

std::vector<SuspectedReading> doubt_drills(const ProfileJob& job, std::span<const DoubtedChild> children,
                                           std::vector<bool>& done) {
  return DrillDoubts(job, children, done).find();
}

std::vector<SuspectedReading> doubt_postures(const ProfileJob& job, const ChildEvidence& evidence,
                                             std::span<const DoubtedChild> children, std::vector<bool>& done) {
  std::vector<SuspectedReading> out;
  PosturesOfDrills drills = postures_of_drills(job.log, children);
  runs::RunLog toggled = job.log;
  const ProfileJob other_job = with_log(job, toggled);
  for (const DoubtedChild& child : children) {
    for (std::size_t k = 0; k < child.selection->used.size(); ++k) {
      const std::uint32_t run = child.selection->used[k];
      if (done[run] || !has_posture(job.log, job.log.runs[run])) {
        continue;
      }
      auto& typed = drills[drill_of(job.log, job.log.runs[run])];
      const runs::Posture posture = job.log.runs[run].posture;
      const bool alone = typed[posture] == 1 && typed[other_posture(posture)] >= fewest_others;
      if (child.slip_of_run[k] < worth_a_toggle && !alone) {
        continue;
      }
      toggled.runs[run].posture = other_posture(job.log.runs[run].posture);
      const double log_odds = evidence.of_runs(other_job, child, child.selection->used, true) - child.robust +
                              std::log(alone ? chance_of_wrong_posture_alone : chance_of_wrong_posture);
      toggled.runs[run].posture = job.log.runs[run].posture;
      const double probability = 1.0 / (1.0 + std::exp(-log_odds));
      if (probability >= maybe_suspected) {
        out.push_back(posture_of(job, run, probability));
        done[run] = true;
      }
    }
  }
  return out;
}

}  // namespace bagsplit::jobs
