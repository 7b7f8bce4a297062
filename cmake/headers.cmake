# wetspan_find_headers(<package> <header>) sets WETSPAN_<package>_INCLUDE to the directory that holds this very header,
# and says which one that is.
#
# Where <package>_ROOT is given (a cache variable or in the environment; a Python build requirement sets it), only that
# place is searched, so that a stray system copy cannot win. Otherwise CMake's ordinary places, CMAKE_PREFIX_PATH first.
function(wetspan_find_headers package header)
  set(variable WETSPAN_${package}_INCLUDE)
  set(root ${${package}_ROOT} $ENV{${package}_ROOT})
  if(root)
    find_path(${variable} ${header} PATHS ${root} PATH_SUFFIXES include include/eigen3 NO_DEFAULT_PATH REQUIRED)
  else()
    find_path(${variable} ${header} PATH_SUFFIXES eigen3 REQUIRED)
  endif()
  message(STATUS "${package} headers: ${${variable}}")
endfunction()

# Eigen 3 numbers itself WORLD.MAJOR.MINOR = 3.4.0, Eigen 5 MAJOR.MINOR.PATCH = 5.0.1 beside a WORLD that stays 3, and
# find_package() with a version refuses one or the other: so the numbers are read from the headers.
function(wetspan_require_eigen oldest)
  set(headers ${WETSPAN_Eigen3_INCLUDE}/Eigen/src/Core/util/Macros.h)
  if(EXISTS ${WETSPAN_Eigen3_INCLUDE}/Eigen/Version)
    set(headers ${WETSPAN_Eigen3_INCLUDE}/Eigen/Version)
  endif()
  file(STRINGS ${headers} lines REGEX "^#define EIGEN_(WORLD|MAJOR|MINOR|PATCH)_VERSION [0-9]+")
  string(REGEX MATCHALL "[0-9]+" numbers "${lines}")
  list(LENGTH numbers count)
  if(count EQUAL 4)
    list(POP_FRONT numbers)
  endif()
  list(JOIN numbers . version)
  if(version VERSION_LESS oldest)
    message(FATAL_ERROR "Eigen ${version} in ${WETSPAN_Eigen3_INCLUDE} is too old: ${oldest} or newer is needed.")
  endif()
endfunction()
