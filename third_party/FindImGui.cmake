# Debian's Dear ImGui is a static library with the GLFW and OpenGL 3 backends inside and no CMake config; its .pc omits FreeType. Gives ImGui::ImGui.
include(FindPackageHandleStandardArgs)
find_package(PkgConfig REQUIRED)
pkg_check_modules(IMGUI QUIET imgui)
pkg_check_modules(STB QUIET IMPORTED_TARGET stb)
find_package(glfw3 3.3 CONFIG QUIET)
find_package(Freetype QUIET)
find_package(OpenGL QUIET)
find_library(IMGUI_LIBRARY imgui HINTS ${IMGUI_LIBRARY_DIRS})
find_path(IMGUI_HEADERS imgui.h HINTS ${IMGUI_INCLUDE_DIRS} PATH_SUFFIXES imgui)
find_package_handle_standard_args(ImGui REQUIRED_VARS IMGUI_LIBRARY IMGUI_HEADERS glfw3_FOUND FREETYPE_FOUND OPENGL_FOUND STB_FOUND VERSION_VAR IMGUI_VERSION)
if(ImGui_FOUND AND NOT TARGET ImGui::ImGui)
  add_library(ImGui::ImGui STATIC IMPORTED)
  set_target_properties(ImGui::ImGui PROPERTIES
    IMPORTED_LOCATION ${IMGUI_LIBRARY}
    INTERFACE_INCLUDE_DIRECTORIES "${IMGUI_HEADERS};${IMGUI_HEADERS}/backends"
    INTERFACE_SYSTEM_INCLUDE_DIRECTORIES "${IMGUI_HEADERS};${IMGUI_HEADERS}/backends"
    INTERFACE_LINK_LIBRARIES "glfw;Freetype::Freetype;PkgConfig::STB;OpenGL::GL;${CMAKE_DL_LIBS}")
endif()
