#include "wetspan/study/clock.hpp"

#include "clock.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <set>
#include <string>

#include "droplet_course.hpp"
#include "wetspan/errors.hpp"

namespace wetspan {
namespace clocks {

extern const Kernels baseline_kernels;
#ifdef WETSPAN_X86_KERNELS
extern const Kernels avx2_kernels, avx512_kernels;
#endif

const Kernels& kernels(Instructions instructions) {
#ifdef WETSPAN_X86_KERNELS
  if (instructions == Instructions::avx2) return avx2_kernels;
  if (instructions == Instructions::avx512) return avx512_kernels;
#endif
  (void)instructions;
  return baseline_kernels;
}

}  // namespace clocks

std::span<const std::string_view> clock_refusals() {
  static constexpr std::array all{refusal::none,      refusal::no_liquid,     refusal::hygroscopic,
                                  refusal::dew,       refusal::beyond_drying, refusal::not_to_the_end,
                                  refusal::tolerance, refusal::contact_angle, refusal::many_classes,
                                  refusal::rewetting, refusal::given_up,      refusal::asked};
  return all;
}

// The drying of droplets is a polynomial fitted to the exact function. Its error may be this share of the
// tolerance:
constexpr double fit_share = 0.1;      // [1]
constexpr double finest_clock = 1e-8;  // tolerance below which fits are not trusted [1]

std::string_view clock_refuses(const Scenario& scenario, const Load& load, const Following& following) {
  double liquid = 0.0, dew = 0.0;
  for (const Load::Layer& layer : load.layers) liquid += layer.liquid, dew += layer.dew;
  if (liquid <= 0.0) return refusal::no_liquid;
  if (hygroscopicity(scenario.liquid, scenario.liquid.humectant) > 0.0) return refusal::hygroscopic;
  if (dew > 0.0) return refusal::dew;
  if (following.at_least > 0.0) return refusal::beyond_drying;
  if (std::isfinite(following.at_most)) return refusal::not_to_the_end;
  if (scenario.numerics.tolerance < finest_clock) return refusal::tolerance;
  if (clocks::course_of(scenario.leaf).error >
      std::max(finest_clock, fit_share * scenario.numerics.tolerance)) {
    return refusal::contact_angle;
  }
  for (const Load::Layer& layer : load.layers) {
    if (layer.droplets.diameter.size() > clocks::most_classes) return refusal::many_classes;
  }
  return refusal::none;
}

ClockRun clock_spans(std::span<const SpanJob> jobs, Instructions instructions, bool one_lane) {
  require_instructions(instructions);
  std::set<const CropAir*> allowed;  // many spans share a record
  for (const SpanJob& job : jobs) {
    if (job.scenario == nullptr || job.load == nullptr || job.air == nullptr) {
      throw InputError("a span to follow needs a scenario, a load and an air record");
    }
    check(*job.scenario);
    if (allowed.insert(job.air).second) check(*job.air);
    check_start(*job.air, job.start);
    check_load(*job.load, *job.scenario);
  }
  ClockRun run{std::vector<std::optional<WetSpan>>(jobs.size()), 0};
  // one supply for each number of leaf layers, which the lanes of a kernel share
  class Given : public clocks::EventSupply {
   public:
    Given(std::span<const SpanJob> jobs, ClockRun& run, std::size_t layers)
        : jobs_(jobs), run_(run), layers_(layers) {}

    bool next(std::size_t slot, clocks::Event& event) override {
      if (slots_.size() <= slot) slots_.resize(slot + 1);
      for (; at_ < jobs_.size(); ++at_) {
        const SpanJob& job = jobs_[at_];
        if (job.load->layers.size() != layers_ || !clock_refuses(*job.scenario, *job.load).empty()) continue;
        slots_[slot].emplace(at_++, WetCrop(*job.scenario, *job.load, *job.air, job.start));
        clocks::make_ready(event, slots_[slot]->second, *job.load);
        return true;
      }
      return false;
    }
    void done(std::size_t slot, const clocks::Solution& solution) override {
      const auto& [job, crop] = *slots_[slot];
      if (solution.followed) run_.spans[job] = clocks::read(solution, crop, *jobs_[job].load);
    }

   private:
    std::span<const SpanJob> jobs_;
    ClockRun& run_;
    std::size_t layers_, at_ = 0;
    std::vector<std::optional<std::pair<std::size_t, WetCrop>>> slots_;
  };
  const clocks::Kernels& kernels = clocks::kernels(instructions);
  for (std::size_t layers = 1; layers <= clocks::most_layers; ++layers) {
    Given supply(jobs, run, layers);
    run.evaluations += (one_lane ? kernels.one : kernels.full)(supply, air_fits());
  }
  return run;
}

}  // namespace wetspan
