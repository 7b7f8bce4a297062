// Sums over the classes of droplets on a side of leaves, what each class gives off, and the derivatives of
// both: where the reference path spends most of its time. The kernel is compiled once for each instruction
// set (classes_kernel.cpp).
#pragma once

#include <cstddef>

#include "../plant/droplet_equations.hpp"

namespace wetspan::classes {

constexpr double step_of = 1e-7;  // of difference quotients, over a number's scale

/// The classes of a layer: one number for each class in every array, per leaf area.
struct Classes {
  const DropletAngles& angles;
  double solute, hygroscopicity;  // of the layer's liquid [1]
  const double *edge, *disc;      // n pi R_0 [1/m], n pi R_0^2 [1]
  const double* lies;             // 1 while a class has not dried; else 0
  const double* floor;            // share of its water below which its activity is a line
  const double* slope;            // of that line [1]
  double *shell, *activity;       // results: diffusion conductance / D [1/m], water activity [1]
};

struct SideSums {
  double shells = 0, drive = 0;  // diffusion conductance / D [1/m]; the same weighted by activity
  double discs = 0;              // base areas per leaf area [1]
};

/// The vapour around the classes of a side, and what of it full leaves cannot retain.
struct Around {
  double diffusivity;        // [m2/s]
  double saturated, vapour;  // vapour densities at the leaf's temperature, and outside the shells [kg/m3]
  double full;               // liquid over the storage capacity of leaves [1]
};
struct Given {
  double evaporation = 0, dripping = 0;  // [kg/m2/s]
};

/// Derivatives that linearised.hpp names: one number for each class in every array.
struct Slopes {
  double* own;                             // of a class's rate by the share of its water that is left [1/s]
  double *by_drive, *by_around, *by_full;  // of its rate by D rho_sat, D rho_s and the fullness of leaves
  double *shell, *driving, *disc, *water;  // of its terms in the sums of its side, by the share that is left
};
/// The sums over the classes of a side of shells, shells weighted by activity, wet discs and water.
struct FourSums {
  double shells = 0, driving = 0, discs = 0, water = 0;
};

struct Kernel {
  /// Sums over the classes `from` to `to` - 1, of which the share `left` of the water is left; sets the
  /// results of these classes.
  SideSums (*sum)(const Classes& classes, std::size_t from, std::size_t to, const double* left);
  /// Sets the rates of the classes [1/s] after `sum`; `by_mass` is 1 over the mass of their water [m2/kg].
  Given (*give)(const Classes& classes, std::size_t from, std::size_t to, const Around& around,
                const double* by_mass, double* rates);
  /// Water of the classes that have not dried, if `water` landed [m]; an entry below 0 is none.
  double (*water)(std::size_t from, std::size_t to, const double* left, const double* lies,
                  const double* water);
  /// Sets the derivatives after `sum`; `by_mass` and `water` as above.
  void (*slopes)(const Classes& classes, std::size_t from, std::size_t to, const double* left,
                 const Around& around, const double* by_mass, const double* water, const Slopes& slopes);
  /// Sets kept = r inverse and returns what this changes in the sums.
  FourSums (*eliminate)(const Slopes& slopes, std::size_t from, std::size_t to, const double* inverse,
                        const double* r, double* kept);
  /// Sets r = kept + inverse (by_drive d drive + by_around d around + by_full d full).
  void (*substitute)(const Slopes& slopes, std::size_t from, std::size_t to, const double* inverse,
                     const double* kept, double drive, double around, double full, double* r);
};
/// The kernel for the fastest instructions of this machine.
const Kernel& kernel();

}  // namespace wetspan::classes
