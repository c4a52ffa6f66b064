# PortAudio ships a pkg-config file only. Gives PortAudio::PortAudio.
include(FindPackageHandleStandardArgs)
find_package(PkgConfig REQUIRED)
pkg_check_modules(PORTAUDIO QUIET IMPORTED_TARGET portaudio-2.0)
find_package_handle_standard_args(PortAudio REQUIRED_VARS PORTAUDIO_LINK_LIBRARIES VERSION_VAR PORTAUDIO_VERSION)
if(PortAudio_FOUND AND NOT TARGET PortAudio::PortAudio)
  add_library(PortAudio::PortAudio ALIAS PkgConfig::PORTAUDIO)
endif()
