#include "src/music/gesture.h"

#include <array>
#include <cmath>
#include <vector>

#include <fmt/core.h>

#include "src/system/printable.h"

namespace landfall {

namespace {

constexpr double widestStep = 5.0;  // semitones; two and a half steps are further than a bend goes

constexpr std::array<GestureKind, 11> kinds{{
    {.gesture = Gesture::bend,
     .name = "bend",
     .plural = "bends",
     .course = Course::rises,
     .bends = true,
     .overFrets = false,
     .fromStroke = false,
     .ownStroke = false,
     .onlyInLines = false,
     .asked = "{width}",
     .title = "{width}",
     .task = "bend {a}",
     .valid = "a bend goes up, 'from' 0 'to' at most 5, for example from = 0, to = 2"},
    {.gesture = Gesture::release,
     .name = "release",
     .plural = "releases",
     .course = Course::falls,
     .bends = true,
     .overFrets = false,
     .fromStroke = false,
     .ownStroke = false,
     .onlyInLines = false,
     .asked = "release",
     .title = "release {a}",
     .task = "release {a}",
     .valid = "a release comes down, for example from = 2, to = 0"},
    {.gesture = Gesture::preBend,
     .name = "pre-bend",
     .plural = "pre-bends",
     .course = Course::rises,
     .bends = true,
     .overFrets = false,
     .fromStroke = true,
     .ownStroke = true,
     .onlyInLines = false,
     .asked = "pre-bend {width}",
     .title = "pre-bend {a}",
     .task = "bend {a} in silence, then pick",
     .valid = "a pre-bend starts on the fretted note, for example from = 0, to = 2"},
    {.gesture = Gesture::slide,
     .name = "slide",
     .plural = "slides",
     .course = Course::either,
     .bends = false,
     .overFrets = true,
     .fromStroke = false,
     .ownStroke = false,
     .onlyInLines = false,
     .asked = "slide to fret {fret}",
     .title = "slide {a}",
     .task = "slide {way} {a}",
     .valid = "a slide goes over whole frets, for example from = 0, to = 12"},
    {.gesture = Gesture::note,
     .name = "note",
     .plural = "notes",
     .course = Course::stands,
     .bends = false,
     .overFrets = false,
     .fromStroke = true,
     .ownStroke = true,
     .onlyInLines = false,
     .asked = "note",
     .title = "note",
     .task = "play the note",
     .valid = "a note stays on one pitch: leave 'from' and 'to' out"},
    {.gesture = Gesture::vibrato,
     .name = "vibrato",
     .plural = "vibrato",
     .course = Course::stands,
     .bends = false,
     .overFrets = false,
     .fromStroke = true,
     .ownStroke = false,
     .onlyInLines = false,
     .asked = "vibrato",
     .title = "vibrato",
     .task = "play the note with vibrato",
     .valid = "a vibrato stays on one pitch: leave 'from' and 'to' out"},
    {.gesture = Gesture::hint,
     .name = "hint",
     .plural = "hints",
     .course = Course::rises,
     .bends = true,
     .overFrets = false,
     .fromStroke = false,
     .ownStroke = false,
     .onlyInLines = true,
     .asked = "hint",
     .title = "hint",
     .task = "bend a little, and back",
     .valid = "a hint bends by less than a half step and comes back: give its range as hint = [20, 60], in cents"},
    {.gesture = Gesture::slip,
     .name = "slip",
     .plural = "slips",
     .course = Course::stands,
     .bends = false,
     .overFrets = true,
     .fromStroke = false,
     .ownStroke = false,
     .onlyInLines = true,
     .asked = "slip",
     .title = "slip",
     .task = "slide up a fret, and back",
     .valid = "a slip leaves its fret and comes back to it: leave 'from' and 'to' out"},
    {.gesture = Gesture::hammerOn,
     .name = "hammer-on",
     .plural = "hammer-ons",
     .course = Course::rises,
     .bends = false,
     .overFrets = true,
     .fromStroke = true,
     .ownStroke = false,
     .onlyInLines = true,
     .asked = "hammer-on to fret {fret}",
     .title = "hammer-on",
     .task = "hammer onto fret {fret}",
     .valid = "a hammer-on goes up over whole frets, for example from = 0, to = 2"},
    {.gesture = Gesture::pullOff,
     .name = "pull-off",
     .plural = "pull-offs",
     .course = Course::falls,
     .bends = false,
     .overFrets = true,
     .fromStroke = true,
     .ownStroke = false,
     .onlyInLines = true,
     .asked = "pull-off to fret {fret}",
     .title = "pull-off",
     .task = "pull off to fret {fret}",
     .valid = "a pull-off comes down over whole frets, for example from = 0, to = -2"},
    {.gesture = Gesture::fall,
     .name = "fall",
     .plural = "falls",
     .course = Course::falls,
     .bends = false,
     .overFrets = true,
     .fromStroke = false,
     .ownStroke = false,
     .onlyInLines = true,
     .asked = "fall, open end",
     .title = "fall",
     .task = "slide down and let it die",
     .valid = "a fall has no end: leave 'from' and 'to' out"},
}};

}  // namespace

std::span<const GestureKind> gestureKinds() { return kinds; }

const GestureKind& kindOf(Gesture gesture) { return kinds[static_cast<std::size_t>(gesture)]; }

std::string_view gestureName(Gesture gesture) { return kindOf(gesture).name; }

Result<Gesture> parseGesture(std::string_view name, Offered offered) {
    for (const GestureKind& kind : kinds)
        if (kind.name == name && (offered == Offered::inLines || !kind.onlyInLines)) return kind.gesture;
    return Error{Error::Code::badInput,
                 fmt::format("'{}' is not a gesture: use {}", printable(name), gestureChoice(offered))};
}

std::string gestureChoice(Offered which) {
    std::string names;
    std::vector<std::string_view> offered;
    for (const GestureKind& kind : kinds)
        if (which == Offered::inLines || !kind.onlyInLines) offered.push_back(kind.name);
    for (const std::string_view name : offered)
        names += (names.empty() ? "" : name == offered.back() ? " or " : ", ") + std::string(name);
    return names;
}

bool goes(Course course, double semitones) {
    switch (course) {
        case Course::rises: return semitones > 0.0;
        case Course::falls: return semitones < 0.0;
        case Course::either: return semitones != 0.0;
        case Course::stands: return semitones == 0.0;
    }
    return false;
}

bool isValid(const GestureKind& kind, double from, double to) {
    const auto bendable = [](double semitones) { return semitones >= 0.0 && semitones <= widestStep; };
    if (kind.bends && !(bendable(from) && bendable(to))) return false;
    if (kind.bends && kind.fromStroke && from != 0.0) return false;  // fretted before it is bent
    if (kind.overFrets && (from != std::round(from) || to != std::round(to))) return false;
    return goes(kind.course, to - from);
}

std::string intervalName(Gesture gesture, double semitones) {
    const double width = std::abs(semitones);
    const bool overFrets = kindOf(gesture).overFrets;
    if (overFrets && width == 12.0) return "octave";
    if (overFrets) return fmt::format("{:g} fret{}", width, width == 1.0 ? "" : "s");
    if (width == 0.5) return "quarter step";
    if (width == 1.0) return "half step";
    if (width == 2.0) return "full step";
    if (width == 3.0) return "step and a half";
    if (width == 4.0) return "two steps";
    return fmt::format("{:g} steps", width / 2.0);
}

std::string filledIn(std::string_view words, Gesture gesture, double semitones, int fret) {
    const std::string width = intervalName(gesture, semitones);
    const bool plural = kindOf(gesture).overFrets || width.ends_with("steps");
    const std::string article = width == "octave" ? "an " : plural ? "" : "a ";
    return fmt::format(fmt::runtime(words), fmt::arg("width", width), fmt::arg("a", article + width),
                       fmt::arg("way", semitones > 0.0 ? "up" : "down"), fmt::arg("fret", fret));
}

}  // namespace landfall
