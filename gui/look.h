// How the window looks: colours of both themes, the spacing grid, three text sizes and the typeface. Window thread.
#pragma once

#include <imgui.h>

#include "src/system/result.h"

namespace landfall {

struct Colour {
    unsigned char r = 0, g = 0, b = 0;
};

// Blue stands for under and orange for over, from Okabe and Ito's colour-blind-safe palette ("Color Universal Design",
// 2008); words are always in ink or quiet ink, so that no meaning hangs on a colour.
struct Palette {
    Colour paper, panel;  // background; the ground of the sweep, the scatter and a chosen row
    Colour ink, quiet;    // words; lesser words
    Colour rule;          // thin lines
    Colour under, over;
};
const Palette& palette(bool dark);

// (L1 + 0.05) / (L2 + 0.05) of W3C WCAG 2.1, "contrast ratio" and "relative luminance"; 1 to 21.
double contrast(Colour a, Colour b);

// Everything scales with the window's smaller side against 1280×800 (0.8 to 2.25 times), with the player's text size
// and with the display's factor.
struct Sizes {
    float unit = 8.0f;    // of the grid; does not grow with the text size
    float factor = 1.0f;  // of the display
    // Medium is what a player must read two metres away: its capitals stand 2.5 % of the window's height.
    float small = 18.0f, medium = 34.0f, big = 84.0f;
};
Sizes sizesFor(float width, float height, double textSize, float displayFactor = 1.0f);

struct Fonts {
    ImFont* small = nullptr;
    ImFont* medium = nullptr;
    ImFont* big = nullptr;
};

// Fills the current context's font atlas with Inter, and DejaVu Sans for the signs that Inter lacks (♯ ♭); DejaVu Sans
// alone where Inter is not installed. Fails where neither is there: says which package to install.
Result<Fonts> loadFonts(const Sizes& sizes);

}  // namespace landfall
