#include "bagsplit/present/machine/profile_csv.hpp"

#include "bagsplit/present/profile_quantities.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/csv_writer.hpp"
#include "bagsplit/text/number_text.hpp"

namespace bagsplit::present {

std::string profile_csv(const jobs::ProfileResult& result) {
  text::CsvWriter csv;
  for (const char* column : {"player", "age_years", "sex", "runs_used", "runs_left_out", "quantity", "mean", "sd", "lo",
                             "median", "hi", "share_from_data", "level", "source"}) {
    csv.text(column);
  }
  csv.end_row();
  for (const jobs::PlayerProfile& player : result.players) {
    const auto begin = [&](const std::string& quantity) {
      csv.text(player.player).number(text::told_age(player.age_years)).text(sex_word(player.sex));
      csv.count(player.runs_used).count(player.runs_left_out).text(quantity);
    };
    const auto row = [&](const std::string& quantity, const std::optional<jobs::Estimate>& value,
                         const std::string& source) {
      const auto part = [&](double jobs::Estimate::*member) {
        return value ? std::optional((*value).*member) : std::nullopt;
      };
      begin(quantity);
      csv.number(part(&jobs::Estimate::mean)).number(part(&jobs::Estimate::sd)).number(part(&jobs::Estimate::lo));
      csv.number(part(&jobs::Estimate::median)).number(part(&jobs::Estimate::hi));
      csv.number(value ? value->share_from_data : std::nullopt).number(result.level).text(source).end_row();
    };
    for (const Quantity& quantity : quantities(player)) {
      row(quantity.name.key, quantity.value, "");
    }
    for (std::size_t k = 0; k < jobs::marked_quantities.size(); ++k) {
      const jobs::Marked& one = player.marks[k];
      const auto from_cost = [&](double give) {
        return one.cost_s && one.give_or_take_s ? std::optional(*one.cost_s + give * *one.give_or_take_s)
                                                : std::nullopt;
      };
      begin("cost_s." + std::string(jobs::marked_quantities[k].what));
      csv.empty().empty().number(from_cost(-1.0)).number(one.cost_s).number(from_cost(1.0)).empty();
      csv.number(0.9).text(jobs::mark_word(one.mark)).end_row();
    }
    for (const jobs::ProfilePercentile& percentile : player.percentiles) {
      row("percentile." + percentile.quantity, percentile.percentile, percentile.source);
      for (const jobs::PlaceThen& then : percentile.over_dates) {
        const auto ranged = [&](const std::string& what, const jobs::RangeThen& range) {
          begin(what + percentile.quantity + "@" + runs::format_date(then.date));
          csv.empty().empty().number(range.lo).number(range.median).number(range.hi).empty();
          csv.number(result.level).text(percentile.source).end_row();
        };
        ranged("percentile.", then.percentile);
        if (then.z) {
          ranged("z.", *then.z);
        }
      }
    }
  }
  return csv.take();
}

}  // namespace bagsplit::present
