#pragma once

#include <Eigen/Core>
#include <vector>

#include "bagsplit/inference/prior/model.hpp"
#include "bagsplit/inference/squad/message_passing.hpp"

/// The scales of a squad's scatter, and how its losses go with speed: where the evidence is highest, and a small design
/// around it; stays inside the module.
///
/// The design (Rue, Martino & Chopin 2009, JRSS B 71:319-392, doi:10.1111/j.1467-9868.2008.00700.x, section 6.5): the
/// centre and two points on each principal axis at the radius sqrt(1.21 m), m scales, weighted so that mean and
/// covariance are right for a normal.
namespace bagsplit::inference {

/// Normal priors of the logarithms, and of the slope of the losses itself; sd 0 fixes a scale.
struct SquadScalePriors {
  Normal log_effort_cv, log_day_cv, log_reaction_sd, log_press_factor;
  Normal loss_slope_s{0.0, 0.0};
};

inline constexpr Eigen::Index scale_count = 5;
/// Logarithms of the scales, in the order of SquadScales; the slope, which has any sign, times slope_unit, so that its
/// steps are of the size of theirs.
using ScaleLogs = Eigen::Matrix<double, scale_count, 1>;

inline constexpr double slope_unit = 0.4;

SquadScales scales_of(const ScaleLogs& logs);

struct ScalePoint {
  double weight = 1.0;
  ScaleLogs at;
  MessageFit fit;
};

struct ScaleDesign {
  std::vector<ScalePoint> points;  ///< weights sum to 1; the mode first
  ScaleLogs mean, sd;              ///< of the posterior
  double log_evidence = 0.0;       ///< over the scales too (Laplace)
  bool settled = false;            ///< the search for the mode came to rest, and so did the messages at every point
};

class ScaleSearch {
 public:
  /// What is passed stays with the caller.
  ScaleSearch(MessagePassing& passing, const SquadScalePriors& priors);

  /// Newton's method with differences, each from the settled messages.
  void find_mode();
  /// After find_mode().  @param narrow_sd  with no scale's SD above it, the design is its centre alone.
  ScaleDesign design(double narrow_sd);

 private:
  enum class Step { taken, last, lost };

  Normal prior(Eigen::Index k) const;
  double log_prior(const ScaleLogs& logs) const;
  double objective(const ScaleLogs& logs, const MessageFit& fit) const;
  ScaleLogs moved(const Eigen::VectorXd& by) const;
  bool differentiate(Eigen::VectorXd& gradient);
  Eigen::MatrixXd invert_curvature();
  Step step();
  bool advance(Eigen::VectorXd move);
  void learn_slip_rate();
  void spread(const Eigen::MatrixXd& axes, ScaleDesign& out);

  MessagePassing& passing_;
  const SquadScalePriors& priors_;
  std::vector<Eigen::Index> free_;  // scales that are not fixed
  ScaleLogs logs_;                  // where the search stands
  MessageFit fit_;
  double value_ = 0.0;
  Eigen::MatrixXd curvature_;  // of minus the objective, among the free scales
  bool converged_ = false;
};

}  // namespace bagsplit::inference
