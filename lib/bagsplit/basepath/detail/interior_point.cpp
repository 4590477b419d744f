#include "bagsplit/basepath/detail/interior_point.hpp"

#include <algorithm>
#include <cmath>

namespace bagsplit::basepath::discretised {

using arrow::at_duration;
using arrow::at_pull;

namespace {

std::vector<std::size_t> legs_of(const Problem& p) {
  std::vector<std::size_t> legs(p.phases());
  for (std::size_t q = 0; q < legs.size(); ++q) {
    legs[q] = p.leg_of(q);
  }
  return legs;
}

std::vector<bool> free_headings(const Problem& p) {
  std::vector<bool> free(p.phases() + 1, true);
  free.front() = p.start_speed == 0.0;
  return free;
}

std::vector<bool> free_speeds(const Problem& p) {
  std::vector<bool> free(p.phases() + 1, true);
  free.front() = false;
  free.back() = !p.stop;
  return free;
}

}  // namespace

InteriorPoint::InteriorPoint(const Problem& problem, const Options& options, Path start)
    : problem_(problem),
      options_(options),
      path_(std::move(start)),
      bounds_(bounds_of(problem, path_.intervals)),
      system_(legs_of(problem), path_.intervals, free_headings(problem), free_speeds(problem), bounds_),
      phases_(problem.phases()),
      intervals_(path_.intervals),
      inequalities_(stage::count(problem.model)),
      points_(problem.phases() * path_.intervals),
      gradients_(points_.size()),
      steps_(points_.size()),
      duration_gradient_(problem.phases()),
      short_by_(problem.legs()),
      bound_values_(problem.legs()),
      bound_steps_(problem.legs()) {
  std::size_t total = points_.size() * stages * inequalities_;
  for (std::size_t l = 0; l < problem.legs(); ++l) {
    bound_values_[l].resize(bounds_[l].size());
    bound_steps_[l].resize(bounds_[l].size());
    total += bounds_[l].size();
  }
  share_ = 1.0 / static_cast<double>(total);
}

double InteriorPoint::total() const {
  double t = 0.0;
  for (const double d : path_.duration) {
    t += d;
  }
  return t;
}

Path InteriorPoint::run() {
  mu_ = options_.barrier_start;
  kept_duration_ = path_.duration;
  path_.status = Status::hit_iteration_limit;
  evaluate();
  double error = optimality_error();
  int stalled = 0;
  for (int it = 0; it < options_.max_iterations; ++it) {
    while (error < 10.0 * mu_ && mu_ > options_.barrier_end) {
      mu_ = std::max(options_.barrier_end, mu_ * std::min(0.2, std::sqrt(mu_)));
      filter_.clear();
      trusted_from_ = 0.0;
      trust_ = 4;
      kept_duration_ = path_.duration;
      evaluate();
      error = optimality_error();
    }
    if (trusted_from_ > 0.0 && error < 0.9 * trusted_from_) {
      trusted_from_ = 0.0;
      trust_ = 4;
    } else if (trusted_from_ > 0.0 && trust_ == 0) {
      path_ = trusted_path_;
      trusted_from_ = 0.0;
      filter_.clear();  // it holds points met since
      evaluate();
      error = optimality_error();
    }
    // At the last barrier rounding can stop the residual short of its target: near enough, and no longer falling, is
    // done.
    stalled = mu_ <= options_.barrier_end && error > 0.9 * path_.residual ? stalled + 1 : 0;
    path_.residual = error;
    if (mu_ <= options_.barrier_end && error <= (stalled >= 2 ? 100.0 : 10.0) * options_.barrier_end) {
      path_.status = Status::converged;
      break;
    }
    assemble();
    if (!move(error)) {
      path_.status = Status::line_search_failed;
      break;
    }
    ++path_.iterations;
    evaluate();
    error = optimality_error();
  }
  path_.barrier = mu_;
  path_.total = total();
  return std::move(path_);
}

bool InteriorPoint::move(double error) {
  double shift = 0.0;
  for (int attempt = 0; attempt < 40; ++attempt) {
    if (system_.solve(shift)) {
      inner_steps();
      if (search(error)) {
        if (shift > 0.0) {
          last_shift_ = shift;
        }
        return true;
      }
    }
    shift = shift == 0.0 ? std::max(1e-7, last_shift_ / 4.0) : 6.0 * shift;
  }
  return false;
}

// Steps of slacks, weights and w from the step of the path.
void InteriorPoint::inner_steps() {
  for (std::size_t p = 0; p < phases_; ++p) {
    const double rate = 1.0 / path_.step(p);
    for (std::size_t k = 0; k < intervals_; ++k) {
      const arrow::Step& x = system_.step(p, k);
      const std::size_t at = p * intervals_ + k;
      for (std::size_t i = 0; i < stages; ++i) {
        const Point& q = points_[at][i];
        const basis::Basis& b = basis::gauss[i];
        double d[3] = {0.0, -q.s.turning * x[at_duration], -q.s.gaining * x[at_duration]};
        for (std::size_t a = 0; a < 4; ++a) {
          d[0] += b.value[a] * x[heading_at[a] + 1];
          d[1] += b.slope[a] * rate * x[heading_at[a]];
          d[2] += b.slope[a] * rate * x[heading_at[a] + 1];
        }
        stage::back_substitute(problem_.model, q.system, path_.states[at][i], mu_ * share_, d, steps_[at][i]);
      }
    }
  }
  for (std::size_t l = 0; l < problem_.legs(); ++l) {
    for (std::size_t j = 0; j < bounds_[l].size(); ++j) {  // slack (weight + its step) + weight (step of slack) = mu
      const BoundState& z = path_.bounds[l][j];
      const double step = system_.bound_step(l, j);
      bound_steps_[l][j] = {(mu_ * share_ - z.slack * step) / z.weight - z.slack, step};
    }
  }
}

// f(slack, weight, residual, step of slack, step of weight) for every inequality.
template <class F>
void InteriorPoint::for_each(F&& f) const {
  for (std::size_t at = 0; at < points_.size(); ++at) {
    for (std::size_t i = 0; i < stages; ++i) {
      const stage::State& z = path_.states[at][i];
      const stage::State& d = steps_[at][i];
      for (std::size_t q = 0; q < inequalities_; ++q) {
        f(z.slack[q], z.weight[q], points_[at][i].system.residual[q], d.slack[q], d.weight[q]);
      }
    }
  }
  for (std::size_t l = 0; l < problem_.legs(); ++l) {
    for (std::size_t j = 0; j < bounds_[l].size(); ++j) {
      const BoundState& z = path_.bounds[l][j];
      const BoundState& d = bound_steps_[l][j];
      f(z.slack, z.weight, bound_values_[l][j] + z.slack, d.slack, d.weight);
    }
  }
}

InteriorPoint::Merit InteriorPoint::merit() const {
  double keep = 0.0;
  for (std::size_t p = 0; p < phases_; ++p) {
    const double change = std::log(path_.duration[p] / kept_duration_[p]);
    keep += 0.5 * keeping(p) * change * change;
  }
  double logarithms = 0.0;
  double product = 1.0;
  double off = 0.0;
  for_each([&](double slack, double, double residual, double, double) {
    product *= slack;
    if (product < 1e-200) {
      logarithms += std::log(product);
      product = 1.0;
    }
    off += std::fabs(residual);
  });
  for (const Vec& s : short_by_) {
    off += std::fabs(s[0]) + std::fabs(s[1]);
  }
  return {off, total() + keep - mu_ * share_ * (logarithms + std::log(product))};
}

// Line search with a filter (Waechter & Biegler 2006, section 2.3, their constants): a trial stands if it is better
// than the point and than every earlier one in either part of the merit.
bool InteriorPoint::search(double error) {
  double alpha = 1.0;
  double dual = 1.0;
  const double keep = 1.0 - std::max(0.99, 1.0 - mu_);
  double slope = 0.0;
  for_each([&](double s, double z, double, double ds, double dz) {
    if (alpha * ds < (keep - 1.0) * s) {
      alpha = (keep - 1.0) * s / ds;
    }
    if (dual * dz < (keep - 1.0) * z) {
      dual = (keep - 1.0) * z / dz;
    }
    slope -= mu_ * share_ * ds / s;
  });
  double longest = 0.0;
  for (std::size_t p = 0; p < phases_; ++p) {
    const double change = system_.step(p, 0)[at_duration];
    slope += duration_gradient_[p] * change;
    longest = std::max(longest, std::fabs(change));
  }
  if (alpha * longest > 0.4) {  // durations within a factor of 1.5: beyond, the linear model of a phase means little
    alpha = 0.4 / longest;
  }
  const Merit before = merit();
  const double noise = 1e-12 * std::fabs(before.objective);
  const auto better = [noise](const Merit& now, const Merit& then) {
    return now.off <= (1.0 - 1e-4) * then.off || now.objective <= then.objective - 1e-4 * then.off + noise;
  };
  old_ = path_;
  for (int cut = 0; cut < 14; ++cut) {
    trial(alpha, dual);
    const Merit after = merit();
    bool stands = std::isfinite(after.off) && after.off < std::max(10.0, 100.0 * before.off) && better(after, before);
    for (std::size_t q = 0; stands && q < filter_.size(); ++q) {
      stands = better(after, filter_[q]);
    }
    const bool by_objective = slope < 0.0 && alpha * std::pow(-slope, 2.3) > std::pow(before.off, 1.1);
    if (stands && by_objective) {
      stands = after.objective <= before.objective + 1e-4 * alpha * slope + noise;
    }
    if (stands) {
      if (!by_objective) {
        filter_.push_back(before);
      }
      return true;
    }
    // Curvature of the limits alone can spoil a good Newton step (the Maratos effect). A whole step is taken on trust;
    // if the conditions are not met better a few steps later, run() goes back and such steps are over for this barrier.
    if (cut == 0 && trust_ > 0) {
      evaluate();
      if (optimality_error() < 300.0 * error) {
        if (trusted_from_ == 0.0) {
          trusted_from_ = error;
          trusted_path_ = old_;
        }
        --trust_;
        return true;
      }
    }
    alpha *= 0.5;
  }
  path_ = old_;
  evaluate();
  return false;
}

// The point at a share `alpha` of the step. Slacks grow to what a limit leaves where that is more: it can only help.
void InteriorPoint::trial(double alpha, double dual) {
  for (std::size_t p = 0; p < phases_; ++p) {
    const arrow::Step& whole = system_.step(p, 0);
    const std::size_t l = problem_.leg_of(p);
    path_.duration[p] = old_.duration[p] * std::exp(alpha * whole[at_duration]);
    path_.pull[l] = {old_.pull[l][0] + alpha * whole[at_pull], old_.pull[l][1] + alpha * whole[at_pull + 1]};
    for (std::size_t k = 0; k < intervals_; ++k) {
      const arrow::Step& x = system_.step(p, k);
      const std::size_t node = p * (intervals_ + 1) + k;
      const std::size_t at = p * intervals_ + k;
      path_.nodes[node] = {old_.nodes[node].heading + alpha * x[0], old_.nodes[node].speed + alpha * x[1]};
      for (std::size_t a = 0; a < 2; ++a) {
        path_.inner[at][a] = {old_.inner[at][a].heading + alpha * x[2 + 2 * a],
                              old_.inner[at][a].speed + alpha * x[3 + 2 * a]};
      }
      if (k + 1 == intervals_) {
        path_.nodes[node + 1] = {old_.nodes[node + 1].heading + alpha * x[6],
                                 old_.nodes[node + 1].speed + alpha * x[7]};
      }
    }
    for (std::size_t k = 0; k < intervals_; ++k) {
      place(p, k);
      const std::size_t at = p * intervals_ + k;
      for (std::size_t i = 0; i < stages; ++i) {
        Point& q = points_[at][i];
        stage::State& z = path_.states[at][i];
        const stage::State& o = old_.states[at][i];
        const stage::State& d = steps_[at][i];
        z.w = o.w + alpha * d.w;
        double c[stage::most] = {};
        stage::values(problem_.model_at(p, k, basis::gauss_node[i], intervals_), q.s.speed, q.s.turning, q.s.gaining,
                      z.w, c);
        for (std::size_t n = 0; n < inequalities_; ++n) {
          z.slack[n] = std::max(o.slack[n] + alpha * d.slack[n], -c[n]);
          z.weight[n] = o.weight[n] + dual * d.weight[n];
          q.system.residual[n] = c[n] + z.slack[n];
        }
      }
    }
  }
  measure();
  for (std::size_t l = 0; l < problem_.legs(); ++l) {
    for (std::size_t j = 0; j < bounds_[l].size(); ++j) {
      BoundState& z = path_.bounds[l][j];
      const BoundState& o = old_.bounds[l][j];
      z.slack = std::max(o.slack + alpha * bound_steps_[l][j].slack, -bound_values_[l][j]);
      z.weight = o.weight + dual * bound_steps_[l][j].weight;
    }
  }
}

Path improve(const Problem& problem, Path start, const Options& options) {
  if (start.status == Status::no_start) {
    return start;
  }
  return InteriorPoint(problem, options, std::move(start)).run();
}

}  // namespace bagsplit::basepath::discretised
