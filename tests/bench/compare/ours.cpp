// The half of compare.sh that is ours: each task timed, one line a task.
//   compare_ours            TASK MEDIAN_S LOW_S HIGH_S ANSWER...      (quartiles over repeats)
// The data and the answers are the same as in others.R and others.py, so that equal work is compared.
#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <functional>
#include <string>
#include <vector>

#include "bagsplit/inference/posterior/posterior.hpp"
#include "bagsplit/motion/curve.hpp"
#include "bagsplit/runs/files.hpp"
#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/stats/icc.hpp"

namespace {

using namespace bagsplit;

// Times `work` so many times, after one turn to warm up; prints quartiles of the time of one turn.
void report(const char* task, int repeats, int turns, const std::function<std::vector<double>()>& work) {
  std::vector<double> answer = work();
  std::vector<double> seconds;
  for (int r = 0; r < repeats; ++r) {
    const auto from = std::chrono::steady_clock::now();
    for (int t = 0; t < turns; ++t) {
      answer = work();
    }
    seconds.push_back(std::chrono::duration<double>(std::chrono::steady_clock::now() - from).count() / turns);
  }
  std::sort(seconds.begin(), seconds.end());
  const auto at = [&](double share) {
    return seconds[static_cast<std::size_t>(share * static_cast<double>(seconds.size() - 1))];
  };
  std::printf("%s %.6g %.6g %.6g", task, at(0.5), at(0.25), at(0.75));
  for (const double value : answer) {
    std::printf(" %.7g", value);
  }
  std::printf("\n");
}

// Ten circuits of a child: V, tau, reaction, four losses, one timer's bias; means and SDs of V, tau and reaction.
std::vector<double> posterior() {
  inference::PlayerData data;
  data.log_top_speed = {std::log(6.0), 0.09};
  data.log_time_constant = {std::log(0.95), 0.2};
  data.terms = {{0.32, 0.08}, {0.3, 0.15}, {0.3, 0.15}, {0.3, 0.15}, {0.2, 0.15}, {-0.1, 0.1}};
  data.effort_cv = 0.02;
  data.day_cv = 0.0;
  data.reaction_sd_s = 0.05;
  constexpr double base_m = 18.288;
  constexpr double time_s[] = {4.05, 8.02, 12.1, 16.3};
  for (int i = 0; i < 10; ++i) {
    data.add_run(1);
    std::uint64_t terms = 1U | 32U;
    std::vector<inference::MarkData> marks;
    for (int k = 0; k < 4; ++k) {
      terms |= std::uint64_t{2} << k;
      marks.push_back({base_m * (k + 1), time_s[k] + 0.03 * ((i * 7 + k * 3) % 5 - 2), 0.07, terms});
    }
    data.add_reading(true, 0.0, 0.05, marks);
  }
  const inference::Posterior posterior(data);
  std::vector<double> values(posterior.size());
  std::vector<double> answer;
  const auto add = [&](const inference::Estimate& e) { answer.insert(answer.end(), {e.mean, e.sd}); };
  const auto of = [&](auto&& function) {
    for (std::size_t i = 0; i < posterior.size(); ++i) {
      values[i] = function(posterior.sprints()[i]);
    }
    add(posterior.of_sprint(values, 0.9, std::nullopt));
  };
  of([](const motion::Sprint& s) { return s.top_speed_mps; });
  of([](const motion::Sprint& s) { return s.time_constant_s; });
  for (std::uint32_t term = 0; term < 5; ++term) {
    const inference::Estimate e = posterior.of_terms(std::span(&term, 1), 0.9);
    if (term == 0) {
      add(e);
    }
  }
  return answer;
}

// Source: Shrout & Fleiss (1979), Psychol Bull 86:420-428, table 2: 6 targets, 4 judges.
constexpr double ratings[] = {9, 2, 5, 8, 6, 1, 3, 2, 8, 4, 6, 8, 7, 1, 2, 6, 10, 5, 6, 9, 6, 2, 4, 7};

std::vector<double> icc() {
  const auto r = stats::reliability(ratings, 4).value();
  return {*r.icc_1_1.icc, *r.icc_2_1.icc, *r.icc_3_1.icc, r.icc_2_1.interval->lo, r.icc_2_1.interval->hi};
}

}  // namespace

int main(int argc, char** argv) {
  report("posterior", 21, 200, posterior);
  report("icc", 21, 2000, icc);
  if (argc > 1) {
    const std::string path = argv[1];
    report("read", 5, 1, [&] {
      text::Problems problems;
      const std::string text = runs::read_file(path, problems).value();
      const runs::RunLogResult result = runs::read_run_log(text, path);
      double sum = 0.0;
      for (const runs::Split& split : result.log.splits) {
        sum += split.time_s;
      }
      return std::vector<double>{static_cast<double>(result.log.readings.size()), sum};
    });
  }
}
