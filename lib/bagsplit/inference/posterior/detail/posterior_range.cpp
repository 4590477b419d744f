#include "bagsplit/inference/posterior/detail/posterior_range.hpp"

#include <algorithm>
#include <cmath>

namespace bagsplit::inference {

namespace {

constexpr double step_along = 0.5;     // in the frame's SDs of log tau
constexpr int most_steps = 400;        // to each side
constexpr int most_newton_steps = 12;  // across the ridge

// Walks along the ridge of a density to one side.
class RidgeWalk {
 public:
  RidgeWalk(SprintDensity& density, const LatticeFrame& frame)
      : density_(density),
        frame_(frame),
        here_(frame.centre),
        by_step_(frame.root_wu * step_along),
        width_(frame.root_ww) {}

  // The next point of the ridge.  @return false where no highest point could be told.
  bool advance(double sign);
  SprintCoordinates::Point point() const { return here_; }
  double log_density() const { return value_; }

 private:
  double at(double w) const {
    const SprintCoordinates::Place place = frame_.coordinates->at(here_.u, w);
    return density_.log_posterior(place.log_v, place.log_tau) + place.log_jacobian;
  }

  SprintDensity& density_;
  const LatticeFrame& frame_;
  SprintCoordinates::Point here_;
  double by_step_;  // what w moved by at the last step
  double width_;    // of the ridge, in the units of w
  double value_ = 0.0;
};

bool RidgeWalk::advance(double sign) {
  const double from = here_.w;
  here_.u += sign * step_along * frame_.root_uu;
  here_.w += sign * by_step_;
  for (int i = 0; i < most_newton_steps; ++i) {
    const double h = 0.3 * width_;
    value_ = at(here_.w);
    const double up = at(here_.w + h);
    const double down = at(here_.w - h);
    const double slope = (up - down) / (2.0 * h);
    const double bend = -(up - 2.0 * value_ + down) / (h * h);
    if (!std::isfinite(slope) || !std::isfinite(bend)) {
      return false;
    }
    const double least = 0.05 / (width_ * width_);  // the ridge widens by a few times in one go, at most
    const double move = std::clamp(slope / std::max(bend, least), -8.0 * width_, 8.0 * width_);
    here_.w += move;
    width_ = 1.0 / std::sqrt(std::max(bend, least));
    if (std::fabs(move) < 0.2 * width_) {
      by_step_ = sign * (here_.w - from);
      value_ += 0.5 * slope * move;
      return true;
    }
  }
  return false;
}

}  // namespace

bool reaches_all(SprintDensity& density, const LatticeFrame& frame, const LatticeGrower& grown, const Lattice& lattice,
                 double log_cut) {
  for (const double sign : {1.0, -1.0}) {
    RidgeWalk walk(density, frame);
    for (int step = 0;; ++step) {
      if (step == most_steps || !walk.advance(sign)) {
        return false;
      }
      if (walk.log_density() < lattice.highest - log_cut) {
        break;
      }
      if (!grown.holds(walk.point(), lattice)) {
        return false;
      }
    }
  }
  return true;
}

}  // namespace bagsplit::inference
