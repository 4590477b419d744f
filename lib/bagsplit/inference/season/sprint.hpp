#pragma once

#include "bagsplit/inference/season/season.hpp"

/// The sprint v = V (1 - exp(-t / tau)) as far as the season needs it: what a course says of its two quantities and
/// what wind does to a time. V [m/s] top speed, tau [s] time constant, V / tau first acceleration.
namespace bagsplit::season {

/// Time [s] from first move over a distance [m], > 0.  Accuracy: relative error below 1e-12 from 1 m on.
double moving_time_s(double distance_m, double top_speed_mps, double time_constant_s);

/// Moving time of a course and its response to the two quantities, in closed form at a given sprint:
///
///   top speed, first acceleration kept:   d/(v T) - r,    r = V tau (1 - E - (t/tau) E) / (v T),   E = exp(-t/tau)
///   first acceleration, top speed kept:   r
///
/// with T = t(d) + turns_s. The sum is what V alone does at one tau.
/// @param turns_s  time lost at turns, >= 0.
CourseResponse course_response(double distance_m, double turns_s, double top_speed_mps = 5.5,
                               double time_constant_s = 1.1);

/// Drag factor k = rho Cd A / (2 m) [1/m] of a runner, frontal area by body surface.
/// Source: Du Bois & Du Bois (1916); Arsac & Locatelli (2002), J Appl Physiol 92:1781-1788; `scale` fitted by us to
/// Linthorne (1994).
double drag_per_m(double height_m, double mass_kg, double scale);

/// Change of time [s] over a distance by wind w [m/s] (+ from behind), first order in k:
/// v' = (V - v)/tau + k (2 v w - w^2). On a loop the linear part cancels and w^2/2 stands for its mean square.
double wind_change_s(double wind_mps, double distance_m, double top_speed_mps, double time_constant_s,
                     double drag_per_m, bool loop);

}  // namespace bagsplit::season
