#include "gui/look.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <fstream>
#include <string>

namespace landfall {

namespace {

constexpr Palette night{{18, 24, 27},  {25, 33, 37},   {240, 237, 228}, {178, 186, 186},
                        {84, 97, 101}, {86, 180, 233}, {230, 159, 0}};
// On light paper Okabe and Ito's sky blue and orange would vanish: their blue and vermillion are the darker pair of the
// same palette.
constexpr Palette day{{246, 243, 235}, {254, 252, 247}, {24, 29, 32}, {72, 78, 80},
                      {158, 158, 150}, {0, 114, 178},   {213, 94, 0}};

double luminance(Colour c) {
    const auto linear = [](unsigned char channel) {
        const double v = channel / 255.0;
        return v <= 0.03928 ? v / 12.92 : std::pow((v + 0.055) / 1.055, 2.4);
    };
    return 0.2126 * linear(c.r) + 0.7152 * linear(c.g) + 0.0722 * linear(c.b);
}

// The first of the files that is there.
std::string firstFile(std::initializer_list<const char*> files) {
    for (const char* file : files)
        if (std::ifstream(file).good()) return file;
    return {};
}

// Debian, Fedora and Arch keep fonts in these places.
std::string interFile(bool heavy) {
    return heavy ? firstFile(
               {"/usr/share/fonts/opentype/inter/Inter-SemiBold.otf", "/usr/share/fonts/inter/Inter-SemiBold.otf"})
                 : firstFile(
                     {"/usr/share/fonts/opentype/inter/Inter-Medium.otf", "/usr/share/fonts/inter/Inter-Medium.otf"});
}
std::string dejaVuFile() {
    return firstFile({"/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf",
                      "/usr/share/fonts/dejavu-sans-fonts/DejaVuSans.ttf", "/usr/share/fonts/TTF/DejaVuSans.ttf"});
}

// Latin with accents, general punctuation, arrows, minus and approximately; the atlas keeps only glyphs that a font
// has.
constexpr std::array<ImWchar, 15> ranges{0x20,   0x17F,  0x2010, 0x2044, 0x2190, 0x2193, 0x2212,
                                         0x2212, 0x2248, 0x2248, 0x2264, 0x2265, 0};
constexpr std::array<ImWchar, 3> musicSigns{0x266D, 0x266F, 0};

}  // namespace

const Palette& palette(bool dark) { return dark ? night : day; }

double contrast(Colour a, Colour b) {
    const double first = luminance(a), second = luminance(b);
    return (std::max(first, second) + 0.05) / (std::min(first, second) + 0.05);
}

Sizes sizesFor(float width, float height, double textSize, float displayFactor) {
    const float factor = std::max(displayFactor, 0.5f);
    const float grow =
        std::clamp(std::min(width / (1280.0f * factor), height / (800.0f * factor)), 0.8f, 2.25f) * factor;
    const float text = grow * std::clamp(static_cast<float>(textSize), 1.0f, 1.5f);
    Sizes sizes;
    sizes.factor = factor;
    sizes.unit = std::round(8.0f * grow);
    sizes.small = std::round(18.0f * text);
    sizes.medium = std::round(34.0f * text);
    sizes.big = std::round(84.0f * text);
    return sizes;
}

Result<Fonts> loadFonts(const Sizes& sizes) {
    const std::string dejaVu = dejaVuFile();
    const bool inter = !interFile(false).empty() && !interFile(true).empty();
    if (dejaVu.empty())
        return Error{
            Error::Code::notFound,
            "No typeface for the window: DejaVuSans.ttf was not found. Install it: apt-get install fonts-dejavu-core"};

    ImFontAtlas& atlas = *ImGui::GetIO().Fonts;
    atlas.Clear();
    atlas.Flags |= ImFontAtlasFlags_NoMouseCursors;
    const auto load = [&](float size, bool heavy) {
        ImFontConfig config;
        config.OversampleH = 1;
        ImFont* font =
            atlas.AddFontFromFileTTF(inter ? interFile(heavy).c_str() : dejaVu.c_str(), size, &config, ranges.data());
        config.MergeMode = true;
        return font && atlas.AddFontFromFileTTF(dejaVu.c_str(), size, &config, musicSigns.data()) ? font : nullptr;
    };
    const Fonts fonts{load(sizes.small, false), load(sizes.medium, false), load(sizes.big, true)};
    if (!fonts.small || !fonts.medium || !fonts.big || !atlas.Build())
        return Error{
            Error::Code::unreadable,
            "A font file cannot be read. Install it again: apt-get install --reinstall fonts-inter fonts-dejavu-core"};
    return fonts;
}

}  // namespace landfall
