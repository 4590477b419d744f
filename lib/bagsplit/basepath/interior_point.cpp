#include <algorithm>
#include <cmath>

#include "bagsplit/basepath/basis.hpp"
#include "bagsplit/basepath/transcription.hpp"

namespace bagsplit::basepath::transcription {

namespace {

using arrow::at_duration;
using arrow::at_pull;
using Gradient = arrow::Step;

constexpr double spring = 0.1;
constexpr std::size_t heading_at[4] = {0, 2, 4, 6};  // local places of the heading's unknowns; the speed's follow each

Sample sample_with(const Path& path, std::size_t phase, std::size_t k, const basis::Basis& b) {
  const Pair& from = path.node(phase, k);
  const Pair& to = path.node(phase, k + 1);
  const auto& in = path.inner[phase * path.intervals + k];
  const double rate = 1.0 / path.step(phase);
  const auto combine_heading = [&](const double(&c)[4]) {
    return c[0] * from.heading + c[1] * in[0].heading + c[2] * in[1].heading + c[3] * to.heading;
  };
  const auto combine_speed = [&](const double(&c)[4]) {
    return c[0] * from.speed + c[1] * in[0].speed + c[2] * in[1].speed + c[3] * to.speed;
  };
  return {combine_heading(b.value), combine_speed(b.value), rate * combine_heading(b.slope), rate * combine_speed(b.slope)};
}

// One Gauss point: the state of the path there and the terms of the displacement it adds.
struct Point {
  Sample s{};
  double weight = 0.0;           // step times Gauss weight
  double forward_x = 0.0, forward_y = 0.0;
  double pull_along = 0.0, pull_across = 0.0;  // of the pull felt here
  stage::System system{};
};

class InteriorPoint {
 public:
  InteriorPoint(const Problem& problem, const Options& options, Path start)
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

  Path run() {
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
      // At the last barrier rounding can stop the residual short of its target: near enough, and no longer falling, is done.
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

 private:
  static std::vector<std::size_t> legs_of(const Problem& p) {
    std::vector<std::size_t> legs(p.phases());
    for (std::size_t q = 0; q < legs.size(); ++q) {
      legs[q] = p.leg_of(q);
    }
    return legs;
  }
  static std::vector<bool> free_headings(const Problem& p) {
    std::vector<bool> free(p.phases() + 1, true);
    free.front() = p.start_speed == 0.0;
    return free;
  }
  static std::vector<bool> free_speeds(const Problem& p) {
    std::vector<bool> free(p.phases() + 1, true);
    free.front() = false;
    free.back() = !p.stop;
    return free;
  }

  double total() const {
    double t = 0.0;
    for (const double d : path_.duration) {
      t += d;
    }
    return t;
  }

  // Where a leg's two phases meet is of no consequence unless propulsion jumps there. A weak spring on the log durations of
  // such a leg, from where they stood when the barrier last changed, keeps the point from wandering.
  double keeping(std::size_t p) const { return problem_.stop && p + 2 >= phases_ ? spring : 0.0; }

  bool starts_leg(std::size_t p) const { return p == 0 || problem_.leg_of(p) != problem_.leg_of(p - 1); }

  // Where each leg is short of its displacement, and how far each bound is over, at the current heading, speed, duration.
  void measure() {
    Vec at{};
    std::size_t j = 0;
    for (std::size_t p = 0; p < phases_; ++p) {
      const std::size_t l = problem_.leg_of(p);
      if (starts_leg(p)) {
        at = problem_.points[l];
        j = 0;
      }
      for (std::size_t k = 0; k < intervals_; ++k) {
        // Bounds are ordered by node: those of a node are measured on arriving there.
        for (; j < bounds_[l].size() && !bounds_[l][j].ahead_of(p, k); ++j) {
          const arrow::Bound& b = bounds_[l][j];
          bound_values_[l][j] = b.normal[0] * at[0] + b.normal[1] * at[1] - b.limit;
        }
        for (const Point& q : points_[p * intervals_ + k]) {
          at[0] += q.weight * q.s.speed * q.forward_x;
          at[1] += q.weight * q.s.speed * q.forward_y;
        }
      }
      short_by_[l] = {problem_.points[l + 1][0] - at[0], problem_.points[l + 1][1] - at[1]};
    }
  }

  void place(std::size_t p, std::size_t k) {
    const double h = path_.step(p);
    for (std::size_t i = 0; i < stages; ++i) {
      Point& q = points_[p * intervals_ + k][i];
      q.s = sample_with(path_, p, k, basis::gauss[i]);
      q.weight = h * basis::gauss_weight[i];
      q.forward_x = std::cos(q.s.heading);
      q.forward_y = std::sin(q.s.heading);
    }
  }

  // Everything at the current point: Gauss points, condensed stages, gradient of the Lagrangian.
  void evaluate() {
    Vec pull{};
    std::size_t passed = 0;
    for (std::size_t p = 0; p < phases_; ++p) {
      const std::size_t l = problem_.leg_of(p);
      const std::vector<arrow::Bound>& bounds = bounds_[l];
      if (starts_leg(p)) {
        pull = path_.pull[l];
        passed = 0;
        for (std::size_t j = 0; j < bounds.size(); ++j) {
          pull[0] -= path_.bounds[l][j].weight * bounds[j].normal[0];
          pull[1] -= path_.bounds[l][j].weight * bounds[j].normal[1];
        }
      }
      duration_gradient_[p] = path_.duration[p] + keeping(p) * std::log(path_.duration[p] / kept_duration_[p]);
      for (std::size_t k = 0; k < intervals_; ++k) {
        for (; passed < bounds.size() && !bounds[passed].ahead_of(p, k); ++passed) {
          pull[0] += path_.bounds[l][passed].weight * bounds[passed].normal[0];
          pull[1] += path_.bounds[l][passed].weight * bounds[passed].normal[1];
        }
        place(p, k);
        const std::size_t at = p * intervals_ + k;
        Gradient& g = gradients_[at];
        g.fill(0.0);
        for (std::size_t i = 0; i < stages; ++i) {
          Point& q = points_[at][i];
          q.pull_along = pull[0] * q.forward_x + pull[1] * q.forward_y;
          q.pull_across = pull[1] * q.forward_x - pull[0] * q.forward_y;
          stage::evaluate(problem_.model, q.s.speed, q.s.turning, q.s.gaining, path_.states[at][i], mu_ * share_, q.system);
          add_gradient(q, basis::gauss[i], path_.step(p), q.system.lagrangian, g);
        }
      }
    }
    measure();
  }

  // Adds the gradient of (weight . limits) - pull . displacement of one Gauss point over the interval's unknowns.
  static void add_gradient(const Point& q, const basis::Basis& b, double h, const double (&limits)[3], Gradient& g) {
    const double heading = -q.weight * q.s.speed * q.pull_across;
    const double speed = limits[0] - q.weight * q.pull_along;
    const double turning = limits[1] / h;
    const double gaining = limits[2] / h;
    for (std::size_t a = 0; a < 4; ++a) {
      g[heading_at[a]] += heading * b.value[a] + turning * b.slope[a];
      g[heading_at[a] + 1] += speed * b.value[a] + gaining * b.slope[a];
    }
    g[at_duration] -= q.s.turning * limits[1] + q.s.gaining * limits[2] + q.weight * q.s.speed * q.pull_along;
  }

  double optimality_error() const {
    double error = 0.0;
    for (std::size_t at = 0; at < points_.size(); ++at) {
      for (std::size_t i = 0; i < stages; ++i) {
        const stage::System& s = points_[at][i].system;
        const stage::State& z = path_.states[at][i];
        error = std::max(error, std::fabs(s.lagrangian_w));
        for (std::size_t q = 0; q < inequalities_; ++q) {
          error = std::max({error, std::fabs(s.residual[q]), std::fabs(z.slack[q] * z.weight[q] / share_ - mu_)});
        }
      }
    }
    for (std::size_t l = 0; l < problem_.legs(); ++l) {
      error = std::max({error, std::fabs(short_by_[l][0]), std::fabs(short_by_[l][1])});
      for (std::size_t j = 0; j < bounds_[l].size(); ++j) {
        const BoundState& z = path_.bounds[l][j];
        error = std::max({error, std::fabs(bound_values_[l][j] + z.slack), std::fabs(z.slack * z.weight / share_ - mu_)});
      }
    }
    return std::max(error, system_.largest(gradients_, duration_gradient_));
  }

  void assemble() {
    for (std::size_t p = 0; p < phases_; ++p) {
      system_.set_phase(p, path_.duration[p] + keeping(p), -duration_gradient_[p]);
      for (std::size_t k = 0; k < intervals_; ++k) {
        assemble_interval(p, k);
      }
    }
    for (std::size_t l = 0; l < problem_.legs(); ++l) {
      system_.set_pull(l, {-short_by_[l][0], -short_by_[l][1]});
      for (std::size_t j = 0; j < bounds_[l].size(); ++j) {
        const BoundState& z = path_.bounds[l][j];
        system_.set_bound(l, j, -z.slack / z.weight, -(bound_values_[l][j] + mu_ * share_ / z.weight));
      }
    }
  }

  void assemble_interval(std::size_t p, std::size_t k) {
    arrow::Interval& in = system_.interval(p, k);
    for (auto& row : in.matrix) {
      std::fill(row, row + arrow::local, 0.0);
    }
    Gradient gradient{};
    const double h = path_.step(p);
    const double rate = 1.0 / h;
    for (std::size_t i = 0; i < stages; ++i) {
      const Point& q = points_[p * intervals_ + k][i];
      const basis::Basis& b = basis::gauss[i];
      add_gradient(q, b, h, q.system.newton, gradient);
      const double(&c)[3][3] = q.system.matrix;
      const double(&force)[3] = q.system.lagrangian;
      const double u = q.s.speed;
      // Second derivatives in (heading, speed | turning, gaining); heading against turning or gaining is 0.
      const double tt = q.weight * u * q.pull_along;
      const double tu = -q.weight * q.pull_across;
      const double uu = c[0][0];
      const double uo = c[0][1] * rate;
      const double ua = c[0][2] * rate;
      const double oo = c[1][1] * rate * rate;
      const double oa = c[1][2] * rate * rate;
      const double aa = c[2][2] * rate * rate;
      // The log duration scales turning and gaining by exp(-eta), the displacement by exp(eta).
      const double eu = -(c[0][1] * q.s.turning + c[0][2] * q.s.gaining);
      const double eo = -(c[1][1] * q.s.turning + c[1][2] * q.s.gaining);
      const double ea = -(c[2][1] * q.s.turning + c[2][2] * q.s.gaining);
      const double row_turning = (eo - force[1]) * rate;
      const double row_gaining = (ea - force[2]) * rate;
      const double row_heading = -q.weight * u * q.pull_across;
      const double row_speed = eu - q.weight * q.pull_along;
      in.matrix[at_duration][at_duration] += -q.s.turning * (eo - force[1]) - q.s.gaining * (ea - force[2]) - tt;
      const double px[2] = {q.weight * u * q.forward_y, -q.weight * q.forward_x};    // heading, speed against pull x
      const double py[2] = {-q.weight * u * q.forward_x, -q.weight * q.forward_y};   // against pull y
      for (std::size_t x = 0; x < 4; ++x) {
        const std::size_t hx = heading_at[x];
        const std::size_t sx = hx + 1;
        const double vx = b.value[x];
        const double dx = b.slope[x];
        for (std::size_t y = 0; y < 4; ++y) {
          const double vy = b.value[y];
          const double dy = b.slope[y];
          if (y <= x) {
            in.matrix[hx][heading_at[y]] += tt * vx * vy + oo * dx * dy;
            in.matrix[sx][heading_at[y] + 1] += uu * vx * vy + ua * (vx * dy + dx * vy) + aa * dx * dy;
          }
          in.matrix[sx][heading_at[y]] += tu * vx * vy + uo * vx * dy + oa * dx * dy;
        }
        in.matrix[at_duration][hx] += row_heading * vx + row_turning * dx;
        in.matrix[at_duration][sx] += row_speed * vx + row_gaining * dx;
        in.matrix[at_pull][hx] += px[0] * vx;
        in.matrix[at_pull][sx] += px[1] * vx;
        in.matrix[at_pull + 1][hx] += py[0] * vx;
        in.matrix[at_pull + 1][sx] += py[1] * vx;
      }
      in.matrix[at_pull][at_duration] += u * px[1];
      in.matrix[at_pull + 1][at_duration] += u * py[1];
    }
    // Speed against heading was filled whole, the rest below the diagonal.
    for (std::size_t a = 0; a < arrow::local; ++a) {
      in.rhs[a] = -gradient[a];
      for (std::size_t b = 0; b < a; ++b) {
        if (a < at_duration && a % 2 == 0 && b % 2 == 1) {
          in.matrix[a][b] = in.matrix[b][a];
        } else {
          in.matrix[b][a] = in.matrix[a][b];
        }
      }
    }
  }

  bool move(double error) {
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
  void inner_steps() {
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
  void for_each(F&& f) const {
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

  // What a step has to improve: how far the constraints are off (sum of absolute values), or the time with its barrier.
  struct Merit {
    double off, objective;
  };
  Merit merit() const {
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

  // Line search with a filter (Waechter & Biegler 2006, section 2.3, their constants): a trial stands if it is better than the
  // point and than every earlier one in either part of the merit.
  bool search(double error) {
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
      // Curvature of the limits alone can spoil a good Newton step (the Maratos effect). A whole step is taken on trust; if
      // the conditions are not met better a few steps later, run() goes back and such steps are over for this barrier.
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
  void trial(double alpha, double dual) {
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
          path_.inner[at][a] = {old_.inner[at][a].heading + alpha * x[2 + 2 * a], old_.inner[at][a].speed + alpha * x[3 + 2 * a]};
        }
        if (k + 1 == intervals_) {
          path_.nodes[node + 1] = {old_.nodes[node + 1].heading + alpha * x[6], old_.nodes[node + 1].speed + alpha * x[7]};
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
          stage::values(problem_.model, q.s.speed, q.s.turning, q.s.gaining, z.w, c);
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

  const Problem& problem_;
  const Options& options_;
  Path path_, old_, trusted_path_;
  std::vector<std::vector<arrow::Bound>> bounds_;
  arrow::System system_;
  std::size_t phases_, intervals_, inequalities_;
  std::vector<std::array<Point, stages>> points_;
  std::vector<Gradient> gradients_;
  std::vector<std::array<stage::State, stages>> steps_;
  std::vector<double> duration_gradient_, kept_duration_;
  std::vector<Vec> short_by_;
  std::vector<std::vector<double>> bound_values_;
  std::vector<std::vector<BoundState>> bound_steps_;
  double share_ = 1.0, mu_ = 0.1, last_shift_ = 0.0;
  double trusted_from_ = 0.0;
  int trust_ = 4;
  std::vector<Merit> filter_;
};

}  // namespace

Sample sample(const Path& path, std::size_t phase, std::size_t k, double xi) {
  return sample_with(path, phase, k, basis::at(xi));
}

Path improve(const Problem& problem, Path start, const Options& options) {
  if (start.status == Status::no_start) {
    return start;
  }
  return InteriorPoint(problem, options, std::move(start)).run();
}

}  // namespace bagsplit::basepath::transcription
