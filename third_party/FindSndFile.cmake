# Debian's libsndfile ships a pkg-config file only. Gives SndFile::sndfile.
include(FindPackageHandleStandardArgs)
find_package(PkgConfig REQUIRED)
pkg_check_modules(SNDFILE QUIET IMPORTED_TARGET sndfile)
find_package_handle_standard_args(SndFile REQUIRED_VARS SNDFILE_LINK_LIBRARIES VERSION_VAR SNDFILE_VERSION)
if(SndFile_FOUND AND NOT TARGET SndFile::sndfile)
  add_library(SndFile::sndfile ALIAS PkgConfig::SNDFILE)
endif()
