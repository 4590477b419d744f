// Uses the installed library from outside: a curve, and text that was compiled into it.
#include <bagsplit/builtin/builtin.hpp>
#include <bagsplit/motion/curve.hpp>
#include <cmath>

int main() {
  const bagsplit::motion::Sprint sprint{7.0, 1.1};
  const double time_s = bagsplit::motion::time_to_distance(sprint, 20.0);
  const double distance_m = bagsplit::motion::distance_at_time(sprint, time_s);
  return std::abs(distance_m - 20.0) < 1e-9 && !bagsplit::builtin::files().empty() ? 0 : 1;
}
