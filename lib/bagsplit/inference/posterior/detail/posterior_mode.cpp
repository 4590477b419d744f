#include "bagsplit/inference/posterior/detail/posterior_mode.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "bagsplit/stats/detail/elementary.hpp"

namespace bagsplit::inference {

namespace {

using stats::square;

class ModeSearch {
 public:
  ModeSearch(SprintDensity& density, const SprintCoordinates& coordinates, SprintCoordinates::Point start)
      : density_(density), coordinates_(coordinates), u_(start.u), w_(start.w) {}

  // Newton steps.  @return whether they came to rest.
  bool climb(int steps);
  // Sharp readings under a wide prior: the ridge is too narrow to climb from afar. Closes in on it by grids, each a
  // third of the last.
  void close_in();
  PosteriorMode mode() const;

 private:
  enum class Step { taken, at_rest, lost };

  double at(double u, double w);
  // Gradient and curvature at the present point.  @return false where it is too far out to tell which way is up.
  bool differentiate();
  Step step(bool first);

  SprintDensity& density_;
  const SprintCoordinates& coordinates_;
  double u_, w_;
  double here_ = 0.0;  // log density at (u, w)
  double by_u_ = 0.0, by_w_ = 0.0;
  Curvature curvature_;
  double su_ = 0.1, sw_ = 0.1;  // steps of the differences
};

double ModeSearch::at(double u, double w) {
  const SprintCoordinates::Place place = coordinates_.at(u, w);
  return density_.log_posterior(place.log_v, place.log_tau) + place.log_jacobian;
}

bool ModeSearch::differentiate() {
  const double fp = at(u_ + su_, w_);
  const double fm = at(u_ - su_, w_);
  const double gp = at(u_, w_ + sw_);
  const double gm = at(u_, w_ - sw_);
  const double fg = at(u_ + su_, w_ + sw_);
  if (!std::isfinite(here_ + fp + fm + gp + gm + fg)) {
    return false;
  }
  by_u_ = (fp - fm) / (2.0 * su_);
  by_w_ = (gp - gm) / (2.0 * sw_);
  Curvature& n = curvature_;
  n.uu = -(fp - 2.0 * here_ + fm) / (su_ * su_);
  n.ww = -(gp - 2.0 * here_ + gm) / (sw_ * sw_);
  n.uw = -(fg - fp - gp + here_) / (su_ * sw_);
  // Keep the matrix positive definite: eigenvalues at least 0.1 (the prior alone gives 0.5 or more).
  const double half_trace = 0.5 * (n.uu + n.ww);
  const double radius = std::sqrt(square(0.5 * (n.uu - n.ww)) + n.uw * n.uw);
  const double smallest = half_trace - radius;
  if (!(smallest > 0.1)) {
    const double lift = 0.1 - smallest;
    n.uu += lift;
    n.ww += lift;
  }
  return true;
}

ModeSearch::Step ModeSearch::step(bool first) {
  if (!differentiate()) {
    return Step::lost;
  }
  const Curvature& n = curvature_;
  const double det = n.determinant();
  double step_u = (n.ww * by_u_ - n.uw * by_w_) / det;
  double step_w = (n.uu * by_w_ - n.uw * by_u_) / det;
  const double decrement = by_u_ * step_u + by_w_ * step_w;
  su_ = std::clamp(0.5 * std::sqrt(n.ww / det), 1e-5, 0.5);
  sw_ = std::clamp(0.5 * std::sqrt(n.uu / det), 1e-5, 0.5);
  if (!std::isfinite(decrement)) {
    return Step::lost;
  }
  if (decrement < 0.02 && !first) {
    u_ += step_u;  // within a seventh of a posterior SD: near enough for a centre
    w_ += step_w;
    return Step::at_rest;
  }
  const double length = std::sqrt(step_u * step_u + step_w * step_w);
  if (length > 3.0) {
    step_u *= 3.0 / length;
    step_w *= 3.0 / length;
  }
  double next = at(u_ + step_u, w_ + step_w);
  for (int halving = 0; halving < 20 && !(next > here_ - 1e-9); ++halving) {
    step_u *= 0.5;
    step_w *= 0.5;
    next = at(u_ + step_u, w_ + step_w);
  }
  if (!std::isfinite(next) || !std::isfinite(step_u + step_w)) {
    return Step::lost;
  }
  u_ += step_u;
  w_ += step_w;
  here_ = next;
  return Step::taken;
}

bool ModeSearch::climb(int steps) {
  here_ = at(u_, w_);
  for (int i = 0; i < steps; ++i) {
    const Step done = step(i == 0);
    if (done != Step::taken) {
      return done == Step::at_rest;
    }
  }
  return false;
}

void ModeSearch::close_in() {
  constexpr int half = 8;
  constexpr int zooms = 9;
  double reach = 5.0;
  u_ = w_ = 0.0;
  for (int zoom = 0; zoom < zooms; ++zoom) {
    double best = -std::numeric_limits<double>::infinity();
    const double from_u = u_;
    const double from_w = w_;
    for (int a = -half; a <= half; ++a) {
      for (int b = -half; b <= half; ++b) {
        const double at_u = from_u + reach * a / half;
        const double at_w = from_w + reach * b / half;
        const double value = at(at_u, at_w);
        if (value > best) {
          best = value;
          u_ = at_u;
          w_ = at_w;
        }
      }
    }
    reach /= 3.0;
  }
  su_ = sw_ = std::max(reach, 1e-5);
}

PosteriorMode ModeSearch::mode() const {
  PosteriorMode out{{u_, w_}, curvature_, here_};
  if (!(out.curvature.determinant() > 0.0)) {  // no curvature could be told: the prior's scale
    out.curvature = {};
  }
  return out;
}

}  // namespace

PosteriorMode find_mode(SprintDensity& density, const SprintCoordinates& coordinates,
                        std::optional<motion::Sprint> near) {
  ModeSearch search(density, coordinates, near ? coordinates.point_of(*near) : SprintCoordinates::Point{0.0, 0.0});
  if (!search.climb(12)) {
    search.close_in();
    search.climb(40);
  }
  return search.mode();
}

}  // namespace bagsplit::inference
