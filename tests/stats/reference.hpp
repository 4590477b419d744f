// Reading the reference cases: a CSV with `#` headers, and expected.json with its own tolerances.
#pragma once

#include <gtest/gtest.h>

#include <cmath>
#include <fstream>
#include <limits>
#include <map>
#include <nlohmann/json.hpp>
#include <sstream>
#include <string>
#include <vector>

namespace bagsplit::test {

inline std::string reference_path(const std::string& name) {
  return std::string(BAGSPLIT_TEST_DATA) + "/stats/reference/" + name;
}

/// Columns of a CSV file by name, as text.
class Table {
 public:
  explicit Table(const std::string& name) {
    std::ifstream in(reference_path(name));
    EXPECT_TRUE(in.good()) << "cannot read " << name;
    std::string line;
    while (std::getline(in, line)) {
      if (line.empty() || line[0] == '#') {
        continue;
      }
      std::vector<std::string> cells;
      std::istringstream row(line);
      for (std::string cell; std::getline(row, cell, ',');) {
        cells.push_back(cell);
      }
      if (names_.empty()) {
        names_ = cells;
      } else {
        for (std::size_t i = 0; i < names_.size(); ++i) {
          columns_[names_[i]].push_back(i < cells.size() ? cells[i] : "");
        }
      }
    }
  }
  const std::vector<std::string>& text(const std::string& column) const { return columns_.at(column); }
  std::vector<double> numbers(const std::string& column) const {
    std::vector<double> out;
    for (const auto& cell : text(column)) {
      out.push_back(std::stod(cell));
    }
    return out;
  }
  /// Labels as 0, 1, 2, ... in order of first appearance.
  std::vector<int> levels(const std::string& column) const {
    std::map<std::string, int> seen;
    std::vector<int> out;
    for (const auto& cell : text(column)) {
      out.push_back(seen.emplace(cell, static_cast<int>(seen.size())).first->second);
    }
    return out;
  }
  /// `column` where `key` is `value`.
  std::vector<double> where(const std::string& key, const std::string& value, const std::string& column) const {
    std::vector<double> out;
    const auto all = numbers(column);
    for (std::size_t i = 0; i < all.size(); ++i) {
      if (text(key)[i] == value) {
        out.push_back(all[i]);
      }
    }
    return out;
  }

 private:
  std::vector<std::string> names_;
  std::map<std::string, std::vector<std::string>> columns_;
};

/// The expected values of one case.
class Reference {
 public:
  explicit Reference(const std::string& folder) : folder_(folder) {
    std::ifstream in(reference_path(folder + "/expected.json"));
    EXPECT_TRUE(in.good()) << "cannot read " << folder;
    const auto all = nlohmann::ordered_json::parse(in);
    for (const auto& entry : all.at("expected")) {
      entries_[entry.at("name")] = entry;
    }
  }
  bool has(const std::string& name) const { return entries_.count(name) == 1; }
  /// The value(s) in file order; an object's members in their order.
  std::vector<double> values(const std::string& name) const {
    std::vector<double> out;
    const auto& value = entry(name).at("value");
    if (value.is_structured()) {
      for (const auto& [key, item] : value.items()) {
        out.push_back(number(item));
      }
    } else {
      out.push_back(number(value));
    }
    return out;
  }
  double value(const std::string& name) const { return values(name).at(0); }
  double value(const std::string& name, const std::string& key) const {
    return number(entry(name).at("value").at(key));
  }
  /// Whether `got` lies within the case's own tolerance of `want`.
  bool agrees(const std::string& name, double got, double want) const {
    const auto& e = entry(name);
    double rel = 0.0;
    double abs = 0.0;
    if (e.contains("tol")) {
      rel = e.at("tol").value("rel", 0.0);
      abs = e.at("tol").value("abs", 0.0);
    }
    // Published values carry half a unit of their last digit: that bound itself is met.
    return got == want || std::fabs(got - want) <= std::fmax(rel * std::fabs(want), abs * (1.0 + 1e-9));
  }
  const std::string& folder() const { return folder_; }

 private:
  const nlohmann::ordered_json& entry(const std::string& name) const {
    const auto it = entries_.find(name);
    if (it == entries_.end()) {
      throw std::out_of_range("no expected value '" + name + "' in " + folder_);
    }
    return it->second;
  }
  static double number(const nlohmann::ordered_json& item) {
    if (item.is_string()) {
      return item == "-Infinity" ? -std::numeric_limits<double>::infinity() : std::numeric_limits<double>::infinity();
    }
    return item.get<double>();
  }
  std::string folder_;
  std::map<std::string, nlohmann::ordered_json> entries_;
};

inline ::testing::AssertionResult matches(const Reference& reference, const std::string& name,
                                          const std::vector<double>& got) {
  const auto want = reference.values(name);
  if (want.size() != got.size()) {
    return ::testing::AssertionFailure() << name << ": " << got.size() << " values, expected " << want.size();
  }
  for (std::size_t i = 0; i < want.size(); ++i) {
    if (!reference.agrees(name, got[i], want[i])) {
      return ::testing::AssertionFailure()
             << reference.folder() << ":" << name << "[" << i << "]: got " << ::testing::PrintToString(got[i])
             << ", expected " << ::testing::PrintToString(want[i]);
    }
  }
  return ::testing::AssertionSuccess();
}

inline ::testing::AssertionResult matches(const Reference& reference, const std::string& name, double got) {
  return matches(reference, name, std::vector<double>{got});
}

}  // namespace bagsplit::test

#define EXPECT_REFERENCE(reference, name, ...) EXPECT_TRUE(::bagsplit::test::matches((reference), (name), __VA_ARGS__))
