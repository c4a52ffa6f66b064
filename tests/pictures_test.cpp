// Every invented state of the window as a picture, on a display of its own: what CI keeps and a person looks at.
#include <doctest/doctest.h>

#include <algorithm>
#include <filesystem>
#include <map>
#include <memory>
#include <tuple>

#include <fmt/core.h>

#define STB_IMAGE_IMPLEMENTATION
#define STB_IMAGE_STATIC
#define STBI_ONLY_PNG
#include <stb_image.h>

#include "gui/look.h"
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

// WCAG 2.1, 1.4.11: 3:1 for graphical objects. Read from the pixels, because a thin line between two rows of them is not
// as strong as its colour.
TEST_CASE("the target and both edges of the aim stand out 3 to 1 on the screen, whatever its size, in both themes") {
    if (!VirtualDisplay::installed()) {
        MESSAGE("SKIPPED: Xvfb or xdotool is not here (packages xvfb, xdotool)");
        return;
    }
    TestFolder folder;
    VirtualDisplay display("2600x1700");
    REQUIRE(display.up());
    for (const std::string size : {"1024x600", "1280x800", "1366x768", "1920x1080", "2560x1600"})
        for (const std::string theme : {"", " --light"}) {
            CAPTURE(size);
            CAPTURE(theme);
            const std::string file = (folder / "waiting.png").string();
            REQUIRE(runCommand(display.with() + LANDFALL_SHOW_STATES + " practice-by-ear --size " + size + theme
                               + " --png " + file)
                        .status
                    == 0);
            int width = 0, height = 0, channels = 0;
            const std::unique_ptr<stbi_uc, void (*)(void*)> pixels(
                stbi_load(file.c_str(), &width, &height, &channels, 3), stbi_image_free);
            REQUIRE(pixels);
            // A stretch of the sweep without words: its ground is its most frequent colour.
            const int from = width / 2, to = from + width / 20, top = 4 * height / 10, bottom = 72 * height / 100;
            const auto at = [&](int x, int y) {
                const stbi_uc* pixel = pixels.get() + 3 * (static_cast<std::ptrdiff_t>(y) * width + x);
                return Colour{pixel[0], pixel[1], pixel[2]};
            };
            std::map<std::tuple<int, int, int>, int> often;
            for (int y = top; y < bottom; ++y)
                for (int x = from; x < to; ++x) ++often[{at(x, y).r, at(x, y).g, at(x, y).b}];
            const auto [r, g, b] = std::max_element(often.begin(), often.end(), [](const auto& one, const auto& other) {
                                       return one.second < other.second;
                                   })->first;
            const Colour ground{static_cast<unsigned char>(r), static_cast<unsigned char>(g),
                                static_cast<unsigned char>(b)};
            int lines = 0;
            bool before = false;
            for (int y = top; y < bottom; ++y) {
                bool all = true;
                for (int x = from; x < to && all; ++x) all = contrast(at(x, y), ground) >= 3.0;
                lines += all && !before;
                before = all;
            }
            CHECK(lines == 3);
        }
}
