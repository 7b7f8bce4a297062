// CVODE of SUNDIALS: Adams by fixed-point iteration, or BDF by Newton's with a dense matrix; dry-outs found
// by its root finding and restarted from.
//
//   with_cvode EVENTS TOLERANCE FROM TO adams|bdf

#include <cvode/cvode.h>
#include <nvector/nvector_serial.h>
#include <sundials/sundials_context.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>
#include <sunnonlinsol/sunnonlinsol_fixedpoint.h>

#include <array>
#include <cstdio>
#include <limits>
#include <stdexcept>
#include <string>

#include "equations.hpp"
#include "report.hpp"

namespace {

using namespace benchmark;

constexpr std::size_t wetness = Equations::liquids;  // the last of the functions whose roots are looked for
constexpr std::size_t roots = wetness + 1;

void require(int flag, const char* what) {
  if (flag < 0) throw std::runtime_error(std::string(what) + " failed");
}

int rates(sunrealtype t, N_Vector y, N_Vector dy, void* equations) {
  static_cast<Equations*>(equations)->rates(N_VGetArrayPointer(y), N_VGetArrayPointer(dy), t);
  return 0;
}

int root_functions(sunrealtype, N_Vector state, sunrealtype* values, void* data) {
  const Equations& equations = *static_cast<Equations*>(data);
  const double* y = N_VGetArrayPointer(state);
  for (std::size_t liquid = 0; liquid < Equations::liquids; ++liquid) {
    values[liquid] = equations.is_wet(liquid) ? y[Equations::entry_of(liquid)] - dried_share : -1.0;
  }
  values[wetness] = equations.excess(y);
  return 0;
}

/// One solver for all events, set up once.
class Solver {
 public:
  Solver(bool stiff, double tolerance) {
    require(SUNContext_Create(nullptr, &context), "SUNContext_Create");
    y = N_VNew_Serial(static_cast<sunindextype>(state_size), context);
    memory = CVodeCreate(stiff ? CV_BDF : CV_ADAMS, context);
    require(CVodeInit(memory, rates, 0.0, y), "CVodeInit");
    require(CVodeSStolerances(memory, tolerance, absolute_share * tolerance), "CVodeSStolerances");
    require(CVodeSetMaxStep(memory, longest_step), "CVodeSetMaxStep");
    require(CVodeSetMaxNumSteps(memory, 200'000), "CVodeSetMaxNumSteps");
    if (stiff) {
      matrix = SUNDenseMatrix(static_cast<sunindextype>(state_size), static_cast<sunindextype>(state_size),
                              context);
      linear = SUNLinSol_Dense(y, matrix, context);
      require(CVodeSetLinearSolver(memory, linear, matrix), "CVodeSetLinearSolver");
    } else {
      fixed_point = SUNNonlinSol_FixedPoint(y, 0, context);
      require(CVodeSetNonlinearSolver(memory, fixed_point), "CVodeSetNonlinearSolver");
    }
    require(CVodeRootInit(memory, static_cast<int>(roots), root_functions), "CVodeRootInit");
    std::array<int, roots> falling;
    falling.fill(-1);
    require(CVodeSetRootDirection(memory, falling.data()), "CVodeSetRootDirection");
    require(CVodeSetNoInactiveRootWarn(memory), "CVodeSetNoInactiveRootWarn");
  }
  ~Solver() {
    CVodeFree(&memory);
    if (linear != nullptr) SUNLinSolFree(linear);
    if (matrix != nullptr) SUNMatDestroy(matrix);
    if (fixed_point != nullptr) SUNNonlinSolFree(fixed_point);
    N_VDestroy(y);
    SUNContext_Free(&context);
  }
  Solver(const Solver&) = delete;
  Solver& operator=(const Solver&) = delete;

  Result follow(const Event& event) {
    Equations equations(event);
    double* state = N_VGetArrayPointer(y);
    equations.initialize(state);
    require(CVodeSetUserData(memory, &equations), "CVodeSetUserData");
    require(CVodeReInit(memory, 0.0, y), "CVodeReInit");
    Result result{.wet_time = std::numeric_limits<double>::infinity()};
    while (!equations.finished()) {
      double t = 0.0;
      const int flag = CVode(memory, event.last, y, &t, CV_NORMAL);
      require(flag, "CVode");
      if (flag != CV_ROOT_RETURN) break;
      std::array<int, roots> found;
      require(CVodeGetRootInfo(memory, found.data()), "CVodeGetRootInfo");
      bool dried = false;
      for (std::size_t liquid = 0; liquid < Equations::liquids; ++liquid) {
        if (found[liquid] == 0 || !equations.is_wet(liquid)) continue;
        equations.dry_out(liquid, state);
        dried = true;
      }
      if (result.wet_time > t && (found[wetness] != 0 || equations.excess(state) <= 0.0)) result.wet_time = t;
      if (dried) require(CVodeReInit(memory, t, y), "CVodeReInit");
    }
    result.evaluations = equations.evaluations;
    return result;
  }

 private:
  SUNContext context = nullptr;
  N_Vector y = nullptr;
  void* memory = nullptr;
  SUNMatrix matrix = nullptr;
  SUNLinearSolver linear = nullptr;
  SUNNonlinearSolver fixed_point = nullptr;
};

}  // namespace

int main(int count, char** arguments) try {
  const std::string method = count == 6 ? arguments[5] : "";
  if (method != "adams" && method != "bdf") {
    throw std::runtime_error("with_cvode EVENTS TOLERANCE FROM TO adams|bdf");
  }
  const auto events = read_events(arguments[1], std::stoul(arguments[3]), std::stoul(arguments[4]));
  Solver solver(method == "bdf", std::stod(arguments[2]));
  time_events(events, [&](const Event& event) { return solver.follow(event); });
  return 0;
} catch (const std::exception& error) {
  std::fprintf(stderr, "with_cvode: %s\n", error.what());
  return 2;
}
