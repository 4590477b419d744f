// The charts of a report, each with what it says, and its pages. Not installed.
#pragma once

#include "bagsplit/present/page/detail/report_page.hpp"
#include "bagsplit/present/page/report.hpp"

namespace bagsplit::present {

/// Rows of a chart that fit a page of paper.
inline constexpr std::size_t rows_a_chart = 30;

/// What a player is called: the id, or the name before it.
std::string shown_name(const Report& report, const std::string& id);

/// The squad's page without what stands at its foot.
text::Markup squad_page(const Report& report, const norms::Catalogue& references, Page& page);

/// The order of an evaluation day without what stands at its foot.
text::Markup evaluation_page(const Report& report, Page& page);

/// A relay night without what stands at its foot.
text::Markup relay_page(const Report& report, Page& page);

/// A child's page, to fill one sheet of paper.
text::Markup player_page(const Report& report, std::size_t player, const norms::Catalogue& references, Page& page);

/// The results as they may be shown where the report has a disguise: in the order of the codes, ages in whole years,
/// without what tells weight or date of birth. Else as they are.
Report as_shown(const Report& report);

/// The text of a page or file as it may be shown: labels for marks, months for dates.
std::string as_shown(const Report& report, const std::string& text);

// Charts that both have.
std::optional<Figure> changes_figure(const Report& report, Page& page);
std::vector<Figure> timers_figures(const jobs::TimersResult& timers, Page& page);

}  // namespace bagsplit::present
