# Speech Dispatcher's client library, which ships a pkg-config file only. Gives Speechd::Speechd.
include(FindPackageHandleStandardArgs)
find_package(PkgConfig REQUIRED)
pkg_check_modules(SPEECHD QUIET IMPORTED_TARGET speech-dispatcher)
find_package_handle_standard_args(Speechd REQUIRED_VARS SPEECHD_LINK_LIBRARIES VERSION_VAR SPEECHD_VERSION)
if(Speechd_FOUND AND NOT TARGET Speechd::Speechd)
  add_library(Speechd::Speechd ALIAS PkgConfig::SPEECHD)
endif()
