// Every invented state of the window as a picture, on a display of its own: what CI keeps and a person looks at.
#include <doctest/doctest.h>

#include <filesystem>

#include <fmt/core.h>

#include "tests/support/window_on_xvfb.h"

using namespace landfall;
using namespace landfall::test;

TEST_CASE("each invented state is drawn in both themes, as pictures to look at") {
    if (!VirtualDisplay::installed()) {
        MESSAGE("SKIPPED: Xvfb or xdotool is not here (packages xvfb, xdotool)");
        return;
    }
    VirtualDisplay display;
    REQUIRE(display.up());
    const std::filesystem::path screens = LANDFALL_SCREENS;
    std::filesystem::create_directories(screens);
    const auto drawn = runCommand(display.with() + LANDFALL_SHOW_STATES + " --all " + screens.string() + " 2>&1");
    CHECK_MESSAGE(drawn.status == 0, drawn.output);
    for (const char* name :
         {"practice-landed", "practice-rest", "drills", "progress", "settings", "strings", "start-1-input"})
        for (const char* theme : {"dark", "light"}) {
            const auto file = screens / fmt::format("{}-{}.png", name, theme);
            CAPTURE(file.string());
            REQUIRE(std::filesystem::exists(file));
            CHECK(std::filesystem::file_size(file) > 10000);  // an empty screen's picture is smaller
        }
}
