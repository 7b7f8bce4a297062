// Floating-point operations of the clock path, an event: its kernel, compiled with numbers that count.
//
//   count_operations EVENTS TOLERANCE FROM TO
//
// Prints "kind number" for each kind of operation, the mean over the events; of what the kernel does for its
// own lane only, since lanes side by side do some of their neighbours' work besides.

#include <cmath>
#include <cstdio>
#include <optional>
#include <stdexcept>
#include <string>

#include "clock.hpp"
#include "counted_lanes.hpp"
#include "jobs.hpp"

namespace wetspan::clocks {
extern const Kernels counted_kernels;
}

namespace {

using namespace wetspan;

class Feed : public clocks::EventSupply {
 public:
  explicit Feed(const std::vector<benchmark::Job>& jobs) : jobs_(jobs) {}

  bool next(std::size_t, clocks::Event& event) override {
    if (at_ == jobs_.size()) return false;
    const benchmark::Job& job = jobs_[at_++];
    crop_.emplace(job.scenario, job.load, job.air, job.start);
    clocks::make_ready(event, *crop_, job.load);
    return true;
  }
  void done(std::size_t, const clocks::Solution& solution) override {
    const benchmark::Job& job = jobs_[at_ - 1];
    const SpanJob span{&job.scenario, &job.load, &job.air, job.start};
    const auto usual = clock_spans({&span, 1}, instructions_here().back(), true).spans.front();
    if (solution.followed != usual.has_value()) throw std::runtime_error("counting lanes left an event");
    if (!usual) return;
    const double error = std::abs(solution.wet_time / usual->wet_time - 1.0);
    if (!(error < 1e-9)) throw std::runtime_error("counting lanes find another wet time");
    ++followed_;
  }
  double followed() const { return static_cast<double>(followed_); }

 private:
  const std::vector<benchmark::Job>& jobs_;
  std::size_t at_ = 0;
  long followed_ = 0;
  std::optional<WetCrop> crop_;
};

}  // namespace

int main(int count, char** arguments) try {
  if (count != 5) throw std::runtime_error("count_operations EVENTS TOLERANCE FROM TO");
  std::vector<benchmark::Job> jobs;
  for (const auto& event :
       benchmark::read_events(arguments[1], std::stoul(arguments[3]), std::stoul(arguments[4]))) {
    jobs.push_back(benchmark::job_of(event, std::stod(arguments[2])));
  }
  Feed feed(jobs);
  clocks::counted_kernels.one(feed, wetspan::air_fits());
  const benchmark::Operations& all = benchmark::operations;
  const auto print = [&](const char* kind, long number) {
    std::printf("%s %.6g\n", kind, static_cast<double>(number) / feed.followed());
  };
  print("additions", all.additions);
  print("products", all.products);
  print("multiply-adds", all.multiply_adds);
  print("divisions", all.divisions);
  print("square-roots", all.roots);
  print("comparisons", all.comparisons);
  print("floating-point", all.floating_point());
  print("issued", all.issued());
  return 0;
} catch (const std::exception& error) {
  std::fprintf(stderr, "count_operations: %s\n", error.what());
  return 2;
}
