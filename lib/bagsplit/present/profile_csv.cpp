#include "bagsplit/present/profile_csv.hpp"

#include "bagsplit/present/csv_writer.hpp"
#include "bagsplit/present/number_text.hpp"
#include "bagsplit/present/profile_quantities.hpp"

namespace bagsplit::present {

std::string profile_csv(const coach::ProfileResult& result) {
  CsvWriter csv;
  for (const char* column : {"player", "age_years", "sex", "runs_used", "runs_left_out", "quantity", "mean", "sd", "lo",
                             "median", "hi", "share_from_data", "level", "source"}) {
    csv.text(column);
  }
  csv.end_row();
  for (const coach::PlayerProfile& player : result.players) {
    const auto row = [&](const std::string& quantity, const std::optional<coach::Estimate>& value,
                         const std::string& source) {
      const auto part = [&](double coach::Estimate::*member) {
        return value ? std::optional((*value).*member) : std::nullopt;
      };
      csv.text(player.player).number(told_age(player.age_years)).text(sex_word(player.sex));
      csv.count(player.runs_used).count(player.runs_left_out).text(quantity);
      csv.number(part(&coach::Estimate::mean)).number(part(&coach::Estimate::sd)).number(part(&coach::Estimate::lo));
      csv.number(part(&coach::Estimate::median)).number(part(&coach::Estimate::hi));
      csv.number(value ? value->share_from_data : std::nullopt).number(result.level).text(source).end_row();
    };
    for (const Quantity& quantity : quantities(player)) {
      row(quantity.name.key, quantity.value, "");
    }
    for (const coach::ProfilePercentile& percentile : player.percentiles) {
      row("percentile." + percentile.quantity, percentile.percentile, percentile.source);
    }
  }
  return csv.take();
}

}  // namespace bagsplit::present
