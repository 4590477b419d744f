#pragma once

#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "bagsplit/norms/norm.hpp"
#include "bagsplit/norms/table.hpp"

/// All references held, which one to use for a test, and why.
namespace bagsplit::norms {

/// Which reference was taken for a test, or a plain sentence why none.
struct Choice {
  const Norm* norm = nullptr;  ///< points into the catalogue; nullptr when none applies
  std::string why;             ///< which was used and why, or why none: one plain sentence for people
  double distance_m = 0.0;
  bool percentile() const;  ///< true when the reference gives a number (not only words)
};

/// What a time is, when looked up by itself.
enum class Clock : std::uint8_t {
  as_norm,     ///< measured just as the reference was
  signal,      ///< the clock started at the signal
  first_move,  ///< the clock started at the first move or at a gate
};

/// One reference's answer to "how good is this time".
struct Found {
  const Norm* norm = nullptr;
  std::optional<double> percentile;  ///< 0-100, higher is better
  std::optional<double> z;           ///< positive is faster
  std::optional<Band> band;
  std::optional<double> median_s;
  bool at_limit = false;  ///< the percentile is the lowest or highest the reference may say
  std::string sentence;   ///< what to tell people: the place in words, or why there is none
};

class Catalogue {
 public:
  /// Reads the index (JSON, see data/norms/README.md) and the tables it names.
  /// @param text_of  gives the text of a file named in the index ("norms/x.csv"), or nothing.
  /// Problems of any file are added to `problems`; a reference whose table is missing or broken is left out.
  static Catalogue load(std::string_view index_json,
                        const std::function<std::optional<std::string_view>(std::string_view)>& text_of,
                        text::Problems& problems);
  /// The catalogue compiled into the library. @throws std::logic_error when it is broken (a bug in bagsplit).
  static Catalogue builtin();

  const std::vector<Norm>& norms() const { return norms_; }
  const std::vector<Table>& tables() const { return tables_; }
  const Norm* find(std::string_view id) const;
  const Table* table(std::string_view name) const;  ///< "norms/x.csv"

  /// The reference for a standing-start sprint over a distance, by the published defaults; or why none.
  /// @param distance_m matched within 5 mm. Without age or sex there is none, and the sentence says so.
  Choice choose(double distance_m, std::optional<double> age_yr, std::optional<runs::Sex> sex) const;
  /// One choice for each distance at which any norm may be used, in order of distance (norms first, then squads).
  std::vector<Choice> choose_all(std::optional<double> age_yr, std::optional<runs::Sex> sex) const;
  /// All references at that distance with what they say, the default one first; one sentence-only entry (norm ==
  /// nullptr) when none is held. Never converts between clocks: a reference on another clock answers with a sentence.
  std::vector<Found> lookup(double distance_m, std::optional<double> age_yr, std::optional<runs::Sex> sex,
                            double time_s, Clock clock = Clock::as_norm, std::string_view test = "sprint") const;

 private:
  std::vector<Norm> norms_;
  std::vector<Table> tables_;
};

}  // namespace bagsplit::norms
