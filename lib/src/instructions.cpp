#include "wetspan/instructions.hpp"

#include <algorithm>
#include <string>
#include <vector>

#include "wetspan/errors.hpp"

namespace wetspan {

std::string_view name_of(Instructions instructions) {
  switch (instructions) {
    case Instructions::baseline:
      return "baseline";
    case Instructions::avx2:
      return "avx2";
    case Instructions::avx512:
      return "avx512";
  }
  return "";
}

std::span<const Instructions> instructions_here() {
  static const std::vector<Instructions> all = [] {
    std::vector<Instructions> result{Instructions::baseline};
#ifdef WETSPAN_X86_KERNELS
    const bool fma = __builtin_cpu_supports("avx2") && __builtin_cpu_supports("fma");
    if (fma) result.push_back(Instructions::avx2);
    if (fma && __builtin_cpu_supports("avx512f") && __builtin_cpu_supports("avx512dq") &&
        __builtin_cpu_supports("avx512bw") && __builtin_cpu_supports("avx512vl") &&
        __builtin_cpu_supports("avx512cd")) {
      result.push_back(Instructions::avx512);
    }
#endif
    return result;
  }();
  return all;
}

void require_instructions(Instructions instructions) {
  const auto here = instructions_here();
  if (std::find(here.begin(), here.end(), instructions) != here.end()) return;
  std::string names;
  for (const Instructions each : here) names += (names.empty() ? "" : ", ") + std::string(name_of(each));
  throw InputError("this machine, or this build, has no " + std::string(name_of(instructions)) +
                   " instructions; it has: " + names);
}

}  // namespace wetspan
