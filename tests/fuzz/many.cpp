// A fuzzer's program on random bytes, as fast as the library goes: any compiler, no sanitizers, nothing
// learned from what ran before. It finds numbers without sense, where libFuzzer also finds misuse of memory.
//
// many_doors FROM TO and many_simulate FROM TO try the inputs with these numbers, and tell which one fails.
#include <chrono>
#include <csignal>
#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <random>
#include <vector>

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);

namespace {

std::uint64_t number = 0;

extern "C" void tell(int) {
  std::fprintf(stderr, "input %llu failed\n", static_cast<unsigned long long>(number));
  std::_Exit(1);
}

}  // namespace

int main(int count, char** arguments) {
  if (count != 3) return std::fprintf(stderr, "usage: %s FROM TO\n", arguments[0]), 2;
  std::signal(SIGABRT, tell);
  std::signal(SIGSEGV, tell);
  std::signal(SIGFPE, tell);
  const std::uint64_t from = std::strtoull(arguments[1], nullptr, 10);
  const std::uint64_t to = std::strtoull(arguments[2], nullptr, 10);
  using Clock = std::chrono::steady_clock;
  const auto began = Clock::now();
  std::chrono::duration<double> longest{0.0};
  std::uint64_t slowest = from;
  std::vector<std::uint8_t> bytes;
  for (number = from; number < to; ++number) {
    std::mt19937_64 bits(number);
    bytes.resize(bits() % 150);
    for (std::uint8_t& byte : bytes) byte = static_cast<std::uint8_t>(bits());
    const auto start = Clock::now();
    LLVMFuzzerTestOneInput(bytes.data(), bytes.size());
    const std::chrono::duration<double> took = Clock::now() - start;
    if (took > longest) longest = took, slowest = number;
  }
  const std::chrono::duration<double> all = Clock::now() - began;
  std::printf("%s: %llu to %llu in %.0f s, the longest %.2f s for %llu\n", arguments[0],
              static_cast<unsigned long long>(from), static_cast<unsigned long long>(to), all.count(),
              longest.count(), static_cast<unsigned long long>(slowest));
}
