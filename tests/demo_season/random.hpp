#pragma once

#include <boost/random/mersenne_twister.hpp>
#include <cstddef>
#include <cstdint>
#include <string_view>

/// Random numbers that are the same on every machine: the engine is fixed by its published recurrence, the
/// distributions are our own (those of standard libraries differ from one to another).
namespace demo_season {

/// One independent stream, named: drawing more on one night leaves the other nights as they were.
class Stream {
 public:
  Stream(std::uint64_t seed, std::string_view name);

  double uniform();  ///< in [0, 1), 53 bits
  double normal();   ///< mean 0, SD 1 (Marsaglia's polar method)
  double normal(double mean, double sd) { return mean + sd * normal(); }
  double normal_within(double mean, double sd, double lo, double hi);  ///< redrawn until within [lo, hi]
  std::size_t below(std::size_t n);                                    ///< 0 .. n-1; n > 0

 private:
  boost::random::mt19937_64 engine_;
  double spare_ = 0.0;
  bool has_spare_ = false;
};

}  // namespace demo_season
