// Fits one mixed model to a CSV and prints what it found and how long it took: the half of lme4_side_by_side.R that is
// ours.
//
//   mixed_model_time slopes FILE REPEATS    columns y,x,group     y ~ x + (x | group)
//   mixed_model_time crossed FILE REPEATS   columns y,a,b         y ~ 1 + (1 | a) + (1 | b) + (1 | a:b)
#include <chrono>
#include <ctime>
#include <fstream>
#include <iostream>
#include <sstream>
#include <string>
#include <vector>

#include "bagsplit/stats/mixed_model.hpp"

namespace stats = bagsplit::stats;

namespace {

std::vector<std::vector<double>> read_columns(const std::string& path) {
  std::ifstream in(path);
  std::string line;
  std::getline(in, line);
  std::vector<std::vector<double>> out(3);
  while (std::getline(in, line)) {
    std::istringstream cells(line);
    std::string cell;
    for (auto& column : out) {
      std::getline(cells, cell, ',');
      column.push_back(std::stod(cell));
    }
  }
  return out;
}

std::vector<int> labels(const std::vector<double>& values) {
  std::vector<int> out;
  for (const double v : values) {
    out.push_back(static_cast<int>(v));
  }
  return out;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 4) {
    std::cerr << "usage: mixed_model_time slopes|crossed FILE REPEATS\n";
    return 2;
  }
  const bool slopes = std::string(argv[1]) == "slopes";
  const auto columns = read_columns(argv[2]);
  const auto n = static_cast<Eigen::Index>(columns[0].size());
  stats::MixedModelSpec spec;
  spec.response = Eigen::Map<const Eigen::VectorXd>(columns[0].data(), n);
  spec.fixed = Eigen::MatrixXd::Ones(n, slopes ? 2 : 1);
  if (slopes) {
    spec.fixed.col(1) = Eigen::Map<const Eigen::VectorXd>(columns[1].data(), n);
    spec.random = {{"group", labels(columns[2]), spec.fixed}};
  } else {
    const auto a = labels(columns[1]);
    const auto b = labels(columns[2]);
    spec.random = {{"a", a}, {"b", b}, {"a:b", stats::interaction(a, b)}};
  }
  const int repeats = std::stoi(argv[3]);
  stats::MixedModelFit fit;
  const auto from = std::chrono::steady_clock::now();
  const std::clock_t cpu = std::clock();
  for (int i = 0; i < repeats; ++i) {
    fit = stats::fit_mixed_model(spec);
  }
  const std::chrono::duration<double> wall = std::chrono::steady_clock::now() - from;
  const double busy = static_cast<double>(std::clock() - cpu) / CLOCKS_PER_SEC;
  std::cout.precision(12);
  std::cout << wall.count() / repeats << " " << busy / repeats << " " << fit.criterion << " " << fit.fixed_se[0] << " "
            << fit.df[0].value_or(-1.0) << " " << fit.residual_sd << "\n";
  return usable(fit.status) ? 0 : 1;
}
