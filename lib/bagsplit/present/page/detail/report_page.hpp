// What all pages of a report are put together from. Not installed.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "bagsplit/jobs/profile/profile.hpp"
#include "bagsplit/present/chart/canvas.hpp"
#include "bagsplit/text/markup.hpp"

namespace bagsplit::present {

/// A number with its digits for people, and all of them for programs in `value`.
text::Markup number_cell(double value, int decimals);

/// A table of a page: the first cell of a row is its heading.
class HtmlTable {
 public:
  struct Column {
    std::string heading, unit;
    bool words = false;  ///< text at the left, broken into lines
  };
  explicit HtmlTable(std::vector<Column> columns) : columns_(std::move(columns)) {}

  void begin_row(const text::Markup& heading);
  void text(const text::Markup& cell);
  void count(std::size_t value);
  void number(std::optional<double> value, int decimals);
  /// The median with the ends of its interval; "*" where it is mostly the age group's norm, "#" where it holds the
  /// timer's delay.
  void estimate(const jobs::Estimate* value, int decimals, bool holds_timer_bias = false);
  void interval(double middle, double lo, double hi, int decimals);

  bool empty() const { return rows_.empty(); }
  /// More columns than a sheet of paper holds become several tables, each with the headings of the rows.
  /// @param name  what the table is, for those who hear it.
  text::Markup str(const std::string& name) const;
  /// What the signs mean, those that occur.
  std::vector<std::string> legend() const;

 private:
  void add(const text::Markup& cell) { rows_.back().push_back(cell); }
  text::Markup block(std::size_t from, std::size_t to, const std::string& name) const;

  std::vector<Column> columns_;
  std::vector<std::vector<text::Markup>> rows_;  // cells
  bool any_prior_ = false, any_timer_ = false;
};

/// One chart with what must stand beside it.
struct Figure {
  std::string title;
  std::string says;    ///< one sentence: what the chart says
  std::string cannot;  ///< one sentence: what it cannot say
  text::Markup chart;  ///< several where they share what is said
  text::Markup table;  ///< the same numbers; empty where a table of the page holds them
  std::vector<std::string> legend = {};
};

/// Hands out ids and remembers which references were used.
class Page {
 public:
  chart::Caption caption(std::string title, std::string desc);
  void used(const std::string& source);
  const std::vector<std::string>& sources() const { return sources_; }
  void forget_sources() { sources_.clear(); }

 private:
  std::size_t charts_ = 0;
  std::vector<std::string> sources_;
};

/// @param level  of its heading, 2 to 4.
text::Markup figure(const Figure& figure, int level);

text::Markup heading_at(int level, const text::Markup& text);
text::Markup paragraphs(const std::vector<std::string>& sentences, text::Literal style = "");
text::Markup bullets(const std::vector<std::string>& sentences);
/// A section with its heading; nothing where there is nothing in it.
text::Markup section(const std::string& title, const text::Markup& content);

/// How it looks: light and dark, screen and paper.
text::Markup report_style();

/// The whole file.
std::string html_document(const std::string& title, const text::Markup& body);

}  // namespace bagsplit::present
