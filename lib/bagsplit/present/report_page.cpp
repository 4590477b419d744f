#include "bagsplit/present/report_page.hpp"

#include "bagsplit/present/number_text.hpp"
#include "bagsplit/present/profile_parts.hpp"
#include "bagsplit/present/profile_quantities.hpp"

namespace bagsplit::present {

Markup number_cell(double value, int decimals) {
  return element("data", {{"value", shortest(value)}}, fixed(value, decimals));
}

void HtmlTable::begin_row(const Markup& heading) {
  rows_.push_back({element("th", {{"scope", "row"}}, heading)});
}

void HtmlTable::text(const Markup& cell) {
  add(element("td", {{"class", "words"}}, cell));
}

void HtmlTable::count(std::size_t value) {
  add(element("td", std::to_string(value)));
}

void HtmlTable::number(std::optional<double> value, int decimals) {
  add(element("td", value ? number_cell(*value, decimals) : Markup(absent)));
}

void HtmlTable::estimate(const coach::Estimate* value, int decimals, bool holds_timer_bias) {
  if (value == nullptr) {
    add(element("td", Markup(absent)));
    return;
  }
  const bool prior = mostly_prior(*value);
  any_prior_ = any_prior_ || prior;
  any_timer_ = any_timer_ || holds_timer_bias;
  Markup cell = number_cell(value->median, decimals);
  cell += std::string(prior ? "*" : "") + (holds_timer_bias ? "#" : "") + " ";
  cell += element("small", number_cell(value->lo, decimals) + " to " + number_cell(value->hi, decimals));
  add(element("td", cell));
}

void HtmlTable::interval(double middle, double lo, double hi, int decimals) {
  add(element("td", number_cell(middle, decimals) + " " +
                        element("small", number_cell(lo, decimals) + " to " + number_cell(hi, decimals))));
}

Markup HtmlTable::block(std::size_t from, std::size_t to, const std::string& name) const {
  const auto chosen = [&](std::size_t k) { return k == 0 || (k >= from && k < to); };
  Markup head;
  for (std::size_t k = 0; k < columns_.size(); ++k) {
    if (chosen(k)) {
      Markup words = columns_[k].heading;
      words += columns_[k].unit.empty() ? Markup() : element("span", {{"class", "unit"}}, " " + columns_[k].unit);
      // A corner without words is no heading of anything.
      head += words.empty() ? element("td", {})
                            : element("th", {{"scope", "col"}, {"class", columns_[k].words ? "words" : ""}}, words);
    }
  }
  Markup body;
  for (const std::vector<Markup>& row : rows_) {
    Markup cells;
    for (std::size_t k = 0; k < row.size(); ++k) {
      cells += chosen(k) ? row[k] : Markup();
    }
    body += element("tr", cells);
  }
  // Wider than a phone: scrolls by itself, by keyboard too.
  return element("div", {{"class", "scroll"}, {"tabindex", "0"}, {"role", "region"}, {"aria-label", name}},
                 element("table", element("thead", element("tr", head)) + element("tbody", body)));
}

Markup HtmlTable::str(const std::string& name) const {
  constexpr std::size_t most_columns = 6;
  Markup out;
  const std::size_t values = columns_.size() - 1;
  const std::size_t blocks = (values + most_columns - 1) / most_columns;
  for (std::size_t i = 0; i < blocks; ++i) {
    const std::size_t from = 1 + values * i / blocks;
    const std::size_t to = 1 + values * (i + 1) / blocks;
    out += block(from, to, blocks == 1 ? name : name + ", part " + std::to_string(i + 1));
  }
  return out;
}

std::vector<std::string> HtmlTable::legend() const {
  std::vector<std::string> out;
  if (any_prior_) {
    out.emplace_back("* mostly what is usual at this age and hardly the child's own: hollow in a chart.");
  }
  if (any_timer_) {
    out.emplace_back("# reaction and the timer's own delay together: these runs cannot part them.");
  }
  return out;
}

chart::Caption Page::caption(std::string title, std::string desc) {
  return {"chart" + std::to_string(++charts_), std::move(title), std::move(desc)};
}

void Page::used(const std::string& source) {
  add_once(sources_, source);
}

Markup heading_at(int level, const Markup& text) {
  return level <= 1   ? element("h1", text)
         : level == 2 ? element("h2", text)
         : level == 3 ? element("h3", text)
                      : element("h4", text);
}

Markup figure(const Figure& figure, int level) {
  Markup words;
  words += figure.says.empty() ? Markup() : element("p", figure.says);
  words += figure.cannot.empty() ? Markup()
                                 : element("p", {{"class", "cannot"}}, element("b", "Not told: ") + figure.cannot);
  Markup out = heading_at(level, figure.title) + figure.chart + element("figcaption", words);
  if (!figure.table.empty()) {
    out += element("details",
                   element("summary", "The numbers" + element("span", {{"class", "heard"}}, " of " + figure.title)) +
                       figure.table + paragraphs(figure.legend, "small"));
  }
  return element("figure", out);
}

Markup paragraphs(const std::vector<std::string>& sentences, Literal style) {
  Markup out;
  for (const std::string& sentence : sentences) {
    out += element("p", {{"class", std::string(style.str())}}, sentence);
  }
  return out;
}

Markup bullets(const std::vector<std::string>& sentences) {
  Markup items;
  for (const std::string& sentence : sentences) {
    items += element("li", sentence);
  }
  return items.empty() ? items : element("ul", items);
}

Markup section(const std::string& title, const Markup& content) {
  return content.empty() ? content : element("section", heading_at(2, title) + content);
}

std::string html_document(const std::string& title, const Markup& body) {
  const Attribute charset{"charset", "utf-8"};
  const Markup head = element("meta", {charset}) +
                      element("meta", {{"name", "viewport"}, {"content", "width=device-width, initial-scale=1"}}) +
                      element("meta", {{"name", "color-scheme"}, {"content", "light dark"}}) +
                      // Nothing may be fetched and nothing may run: the page is all there is.
                      element("meta", {{"http-equiv", "Content-Security-Policy"},
                                       {"content", "default-src 'none'; style-src 'unsafe-inline'"}}) +
                      element("title", title) + report_style();
  return "<!DOCTYPE html>\n" +
         element("html", {{"xmlns", "http://www.w3.org/1999/xhtml"}, {"lang", "en"}, {"xml:lang", "en"}},
                 element("head", head) + element("body", body))
             .str() +
         "\n";
}

}  // namespace bagsplit::present
