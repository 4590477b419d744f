#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "bagsplit/jobs/profile/profile.hpp"

/// The quantities of a profile by name, in one order for every format.
namespace bagsplit::present {

/// Names that machine output always has, null or empty where the data tell
/// nothing.
inline constexpr std::string_view circuit_segments[] = {"first", "second", "third", "home"};
inline constexpr std::string_view predicted_distances[] = {"5yd", "10yd", "20yd", "10m", "20m", "30m", "home-first"};

/// What one quantity is called and how many digits people need of it.
struct QuantityName {
  std::string key;     ///< "segment_loss_s.second-stop": as in JSON, with a point for the member
  std::string family;  ///< "segment_loss_s"; empty where there is no member
  std::string member;  ///< "second, stopping": in words within its family; the whole label where there is none
  std::string label;   ///< "loss at second, stopping"
  std::string unit;    ///< "s"; empty for a plain number
  int decimals = 2;
};

/// Name of a quantity from its key. A key that is not known keeps itself as
/// label.
QuantityName quantity_name(std::string_view key);

struct Quantity {
  QuantityName name;
  std::optional<jobs::Estimate> value;
};

/// All quantities of a player but the percentiles, in the order of the machine
/// formats, the absent ones too.
std::vector<Quantity> quantities(const jobs::PlayerProfile& player);

/// The estimate of that name; nothing where there is none.
const jobs::Estimate* find_estimate(const std::vector<jobs::NamedEstimate>& estimates, std::string_view name);

/// Below this share from the data a value is mostly the prior: the age group's
/// norm.
inline constexpr double mostly_prior_below = 0.5;
inline bool mostly_prior(const jobs::Estimate& estimate) {
  return estimate.share_from_data && *estimate.share_from_data < mostly_prior_below;
}

/// First acceleration, marked as mostly what is usual where the squad's level is not told apart from the clocks' start.
std::optional<jobs::Estimate> first_acceleration(const jobs::ProfileResult& result, const jobs::PlayerProfile& player);
/// Is it for a page: at least half of it, and of what is the child's own, is known?
bool first_acceleration_for_page(const jobs::PlayerProfile& player);

/// "F", "M" or nothing.
std::string sex_word(const std::optional<runs::Sex>& sex);
/// "converged", "refined", "not-certified".
std::string_view status_word(inference::PosteriorStatus status);

}  // namespace bagsplit::present
