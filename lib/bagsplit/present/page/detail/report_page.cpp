#include "bagsplit/present/page/detail/report_page.hpp"

#include "bagsplit/present/profile_parts.hpp"
#include "bagsplit/present/profile_quantities.hpp"
#include "bagsplit/text/number_text.hpp"

namespace bagsplit::present {

text::Markup number_cell(double value, int decimals) {
  return text::element("data", {{"value", text::shortest(value)}}, text::fixed(value, decimals));
}

void HtmlTable::begin_row(const text::Markup& heading) {
  rows_.push_back({text::element("th", {{"scope", "row"}}, heading)});
}

void HtmlTable::text(const text::Markup& cell) {
  add(text::element("td", {{"class", "words"}}, cell));
}

void HtmlTable::count(std::size_t value) {
  add(text::element("td", std::to_string(value)));
}

void HtmlTable::number(std::optional<double> value, int decimals) {
  add(text::element("td", value ? number_cell(*value, decimals) : text::Markup(text::absent)));
}

void HtmlTable::estimate(const jobs::Estimate* value, int decimals, bool holds_timer_bias) {
  if (value == nullptr) {
    add(text::element("td", text::Markup(text::absent)));
    return;
  }
  const bool prior = mostly_prior(*value);
  any_prior_ = any_prior_ || prior;
  any_timer_ = any_timer_ || holds_timer_bias;
  text::Markup cell = number_cell(value->median, decimals);
  cell += std::string(prior ? "*" : "") + (holds_timer_bias ? "#" : "") + " ";
  cell += text::element("small", number_cell(value->lo, decimals) + " to " + number_cell(value->hi, decimals));
  add(text::element("td", cell));
}

void HtmlTable::interval(double middle, double lo, double hi, int decimals) {
  add(text::element("td", number_cell(middle, decimals) + " " +
                              text::element("small", number_cell(lo, decimals) + " to " + number_cell(hi, decimals))));
}

text::Markup HtmlTable::block(std::size_t from, std::size_t to, const std::string& name) const {
  const auto chosen = [&](std::size_t k) { return k == 0 || (k >= from && k < to); };
  text::Markup head;
  for (std::size_t k = 0; k < columns_.size(); ++k) {
    if (chosen(k)) {
      text::Markup words = columns_[k].heading;
      words += columns_[k].unit.empty() ? text::Markup()
                                        : text::element("span", {{"class", "unit"}}, " " + columns_[k].unit);
      // A corner without words is no heading of anything.
      head += words.empty()
                  ? text::element("td", {})
                  : text::element("th", {{"scope", "col"}, {"class", columns_[k].words ? "words" : ""}}, words);
    }
  }
  text::Markup body;
  for (const std::vector<text::Markup>& row : rows_) {
    text::Markup cells;
    for (std::size_t k = 0; k < row.size(); ++k) {
      cells += chosen(k) ? row[k] : text::Markup();
    }
    body += text::element("tr", cells);
  }
  // Wider than a phone: scrolls by itself, by keyboard too.
  return text::element(
      "div", {{"class", "scroll"}, {"tabindex", "0"}, {"role", "region"}, {"aria-label", name}},
      text::element("table", text::element("thead", text::element("tr", head)) + text::element("tbody", body)));
}

text::Markup HtmlTable::str(const std::string& name) const {
  constexpr std::size_t most_columns = 6;
  text::Markup out;
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

text::Markup heading_at(int level, const text::Markup& text) {
  return level <= 1   ? text::element("h1", text)
         : level == 2 ? text::element("h2", text)
         : level == 3 ? text::element("h3", text)
                      : text::element("h4", text);
}

text::Markup figure(const Figure& figure, int level) {
  text::Markup words;
  words += figure.says.empty() ? text::Markup() : text::element("p", figure.says);
  words += figure.cannot.empty()
               ? text::Markup()
               : text::element("p", {{"class", "cannot"}}, text::element("b", "Not told: ") + figure.cannot);
  text::Markup out = heading_at(level, figure.title) + figure.chart + text::element("figcaption", words);
  if (!figure.table.empty()) {
    out += text::element("details", text::element("summary", "The numbers" + text::element("span", {{"class", "heard"}},
                                                                                           " of " + figure.title)) +
                                        figure.table + paragraphs(figure.legend, "small"));
  }
  return text::element("figure", out);
}

text::Markup paragraphs(const std::vector<std::string>& sentences, text::Literal style) {
  text::Markup out;
  for (const std::string& sentence : sentences) {
    out += text::element("p", {{"class", std::string(style.str())}}, sentence);
  }
  return out;
}

text::Markup bullets(const std::vector<std::string>& sentences) {
  text::Markup items;
  for (const std::string& sentence : sentences) {
    items += text::element("li", sentence);
  }
  return items.empty() ? items : text::element("ul", items);
}

text::Markup section(const std::string& title, const text::Markup& content) {
  return content.empty() ? content : text::element("section", heading_at(2, title) + content);
}

std::string html_document(const std::string& title, const text::Markup& body) {
  const text::Attribute charset{"charset", "utf-8"};
  const text::Markup head =
      text::element("meta", {charset}) +
      text::element("meta", {{"name", "viewport"}, {"content", "width=device-width, initial-scale=1"}}) +
      text::element("meta", {{"name", "color-scheme"}, {"content", "light dark"}}) +
      // Nothing may be fetched and nothing may run: the page is all there is.
      text::element("meta", {{"http-equiv", "Content-Security-Policy"},
                             {"content", "default-src 'none'; style-src 'unsafe-inline'"}}) +
      text::element("title", title) + report_style();
  return "<!DOCTYPE html>\n" +
         text::element("html", {{"xmlns", "http://www.w3.org/1999/xhtml"}, {"lang", "en"}, {"xml:lang", "en"}},
                       text::element("head", head) + text::element("body", body))
             .str() +
         "\n";
}

}  // namespace bagsplit::present
