#include "bagsplit/norms/catalogue.hpp"

#include <algorithm>
#include <cmath>
#include <sstream>
#include <stdexcept>

#include "bagsplit/norms/detail/distance.hpp"
#include "bagsplit/norms/words.hpp"

namespace bagsplit::norms {

namespace {

void check_age(const char* function, std::optional<double> age_yr) {
  if (age_yr && (!std::isfinite(*age_yr) || *age_yr < 0.0)) {
    std::ostringstream text;
    text << function << ": age_yr is " << *age_yr << ", but must be finite and at least 0";
    throw std::domain_error(text.str());
  }
}

std::string children(runs::Sex sex) {
  return sex == runs::Sex::female ? "girls" : "boys";
}

std::string no_age_or_sex(bool age, bool sex) {
  const std::string missing = !age && !sex ? "birth date and sex" : !age ? "birth date" : "sex";
  return "No percentile without " + missing + " in the roster.";
}

std::string age_words(double age_yr, runs::Sex sex) {
  return children(sex) + " of " + shown(age_yr, 1) + " years";
}

// "8.0 to 9.1": from the youngest to the oldest that any usable reference at a distance covers.
std::string covered_words(const std::vector<const Norm*>& norms, runs::Sex sex) {
  std::string text;
  for (const Norm* norm : norms) {
    if (const auto ages = norm->ages(sex)) {
      text += (text.empty() ? "" : "; ") + norm->info().label + ", " + shown(ages->first, 1) + " to " +
              shown(ages->second, 1);
    }
  }
  return text;
}

std::string tests_words(std::string_view test) {
  if (test == "home-first") {
    return "No published norm is held for children from home to first: only adult professionals have been published. "
           "Compare with the player's own history and the squad.";
  }
  if (test == "reaction") {
    return "No published norm is held for this reaction drill: published child figures are key presses and screen "
           "clicks, "
           "with the device's delay inside. Compare with the player's own history and the squad.";
  }
  return "No published norm is held for this test. Compare with the player's own history and the squad.";
}

}  // namespace

bool Choice::percentile() const {
  return norm != nullptr && (norm->info().kind == Kind::lms || norm->info().kind == Kind::mean_sd ||
                             norm->info().kind == Kind::percentile_marks);
}

const Norm* Catalogue::find(std::string_view id) const {
  const auto it = std::find_if(norms_.begin(), norms_.end(), [&](const Norm& n) { return n.info().id == id; });
  return it == norms_.end() ? nullptr : &*it;
}

const Table* Catalogue::table(std::string_view name) const {
  const auto it = std::find_if(tables_.begin(), tables_.end(), [&](const Table& t) { return t.name == name; });
  return it == tables_.end() ? nullptr : &*it;
}

Choice Catalogue::choose(double distance_m, std::optional<double> age_yr, std::optional<runs::Sex> sex) const {
  check_age("Catalogue::choose", age_yr);
  Choice choice;
  choice.distance_m = distance_m;
  if (!age_yr || !sex) {
    choice.why = no_age_or_sex(age_yr.has_value(), sex.has_value());
    return choice;
  }
  std::vector<const Norm*> at_distance;
  for (const Norm& norm : norms_) {
    const NormInfo& info = norm.info();
    if (info.use_by_default && info.test == "sprint" && same_distance(info.conditions.distance_m, distance_m) &&
        info.conditions.flying_from_m == 0.0) {
      at_distance.push_back(&norm);
    }
  }
  // The index lists norms before squads, and of squads the lower reference first.
  for (const Norm* norm : at_distance) {
    if (norm->at(*age_yr, *sex)) {
      choice.norm = norm;
      choice.why = norm->info().label + ": the reference held for " + shown(distance_m, 2) + " m and " +
                   age_words(*age_yr, *sex) + " (" + norm->info().country + ", " + norm->info().years + "). " +
                   norm->info().restriction;
      return choice;
    }
  }
  const std::string held = covered_words(at_distance, *sex);
  choice.why = "No published norm is held for " + shown(distance_m, 2) + " m and " + age_words(*age_yr, *sex);
  choice.why += held.empty() ? "." : " (held: " + held + " years; never stretched beyond).";
  choice.why += " Compare with the player's own history and the squad.";
  return choice;
}

std::vector<Choice> Catalogue::choose_all(std::optional<double> age_yr, std::optional<runs::Sex> sex) const {
  check_age("Catalogue::choose_all", age_yr);
  std::vector<Choice> choices;
  if (!age_yr || !sex) {
    return choices;
  }
  for (const Norm& norm : norms_) {
    const NormInfo& info = norm.info();
    if (!info.use_by_default || info.test != "sprint" || !norm.at(*age_yr, *sex)) {
      continue;
    }
    const double distance_m = info.conditions.distance_m;
    Choice choice;
    choice.norm = &norm;
    choice.distance_m = distance_m;
    choice.why = info.label + ": the reference held for " + shown(distance_m, 2) + " m and " +
                 age_words(*age_yr, *sex) + " (" + info.country + ", " + info.years + "). " + info.restriction;
    choices.push_back(std::move(choice));
  }
  std::stable_sort(choices.begin(), choices.end(), [](const Choice& a, const Choice& b) {
    const bool squad_a = a.norm->info().standing == Standing::squad;
    const bool squad_b = b.norm->info().standing == Standing::squad;
    return squad_a != squad_b ? squad_b : a.distance_m < b.distance_m;
  });
  return choices;
}

std::vector<Found> Catalogue::lookup(double distance_m, std::optional<double> age_yr, std::optional<runs::Sex> sex,
                                     double time_s, Clock clock, std::string_view test) const {
  check_age("Catalogue::lookup", age_yr);
  if (!(time_s > 0.0) || !std::isfinite(time_s)) {
    std::ostringstream text;
    text << "Catalogue::lookup: time_s is " << time_s << ", but must be finite and above 0";
    throw std::domain_error(text.str());
  }
  std::vector<Found> found;
  if (!age_yr || !sex) {
    found.emplace_back();
    found.back().sentence = no_age_or_sex(age_yr.has_value(), sex.has_value());
    return found;
  }
  for (const Norm& norm : norms_) {
    const NormInfo& info = norm.info();
    if (!info.use_by_default || info.test != test ||
        (test == "sprint" && !same_distance(info.conditions.distance_m, distance_m))) {
      continue;
    }
    Found one;
    one.norm = &norm;
    const auto reference = norm.at(*age_yr, *sex);
    if (!reference) {
      if (norm.ages(*sex)) {
        one.sentence = norm.why_not(*age_yr, *sex);
        found.push_back(std::move(one));
      }
      continue;
    }
    if (clock != Clock::as_norm && info.conditions.signal_start != (clock == Clock::signal)) {
      one.sentence =
          info.conditions.signal_start
              ? info.label +
                    " was timed from the signal, so the reaction is in it; this time is not. Give the runs to "
                    "'profile', which predicts the player's time from the signal with its uncertainty."
              : info.label +
                    " was timed from a self-paced start without reaction; this time holds the reaction. Give "
                    "the runs to 'profile', which predicts the player's time without it.";
      found.push_back(std::move(one));
      continue;
    }
    std::string extra;
    double as_recorded_s = time_s;
    if (clock == Clock::signal && info.conditions.rounding_bias_s != 0.0) {
      as_recorded_s += info.conditions.rounding_bias_s;
      extra = " Its times are rounded up to 0.1 s; " + shown(info.conditions.rounding_bias_s, 2) +
              " s was added to this one to match.";
    }
    one.percentile = reference->percentile_of_time(as_recorded_s);
    one.z = reference->z(as_recorded_s);
    one.median_s = reference->median_s();
    if (info.kind != Kind::marks) {
      one.band = reference->band_of_time(as_recorded_s);
    }
    if (one.percentile) {
      const auto [lowest, highest] = reference->limits();
      one.at_limit = *one.percentile <= lowest || *one.percentile >= highest;
      const std::string place = !one.at_limit               ? "Percentile " + shown(*one.percentile, 0)
                                : *one.percentile <= lowest ? "Percentile " + shown(lowest, 0) + " or below"
                                                            : "Percentile " + shown(highest, 0) + " or above";
      one.sentence = place + (info.standing == Standing::squad ? " within " : " among ") + info.who + "." + extra +
                     " " + info.restriction;
    } else {
      std::string words = reference->words(as_recorded_s);
      words.front() = static_cast<char>(words.front() - 'a' + 'A');
      one.sentence = words + "." + extra + " " + info.restriction;
    }
    found.push_back(std::move(one));
  }
  // A reference that answers comes before one that can only say why it does not.
  std::stable_sort(found.begin(), found.end(),
                   [](const Found& a, const Found& b) { return a.median_s.has_value() && !b.median_s.has_value(); });
  if (found.empty()) {
    found.emplace_back();
    found.back().sentence = test == "sprint" ? choose(distance_m, age_yr, sex).why : tests_words(test);
  }
  return found;
}

}  // namespace bagsplit::norms
