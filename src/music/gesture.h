// The gestures and what sets them apart, one row each: where a gesture goes, how it counts, what it is called. Plain
// values, any thread.
#pragma once

#include <span>
#include <string>
#include <string_view>

#include "src/system/result.h"

namespace landfall {

enum class Gesture { bend, release, preBend, slide, note, vibrato, hint, slip, hammerOn, pullOff, fall };

enum class Course { rises, falls, either, stands };  // from the note it starts on to the one it ends on

struct GestureKind {
    Gesture gesture;
    std::string_view name;  // in files, in the log and on the command line: data, which stays as it is
    std::string_view plural;
    Course course;
    bool bends;  // the string is bent while it goes: the hand's care counts it
    // frets are passed; it counts by the fret it ends on, because its cents are the guitar's setup
    bool overFrets;
    bool fromStroke;   // its last pitch sounds from the pick stroke on
    bool ownStroke;    // it cannot go on from the gesture before without a pick stroke
    bool onlyInLines;  // it stands beside other notes, and is no try of its own
    // Words: {width} "full step", {a} "a full step", {way} "up", {fret} the fret it ends on.
    std::string_view asked;  // after the place, where the eye is quick: "full step"
    std::string_view title;  // "release a full step"
    std::string_view task;   // "bend a full step in silence, then pick"
    std::string_view valid;  // what 'from' and 'to' of a drill's step must be
};

// In the order of the enumerators.
std::span<const GestureKind> gestureKinds();
const GestureKind& kindOf(Gesture gesture);

// "bend", "pre-bend", "hammer-on", ...
std::string_view gestureName(Gesture gesture);
// Of those that are tries of their own, or of all.
enum class Offered { asTries, inLines };
Result<Gesture> parseGesture(std::string_view name, Offered offered = Offered::asTries);
// "bend, release, pre-bend, slide, note or vibrato"
std::string gestureChoice(Offered offered = Offered::asTries);

// Whether a way of so many semitones is the gesture's: up, down, anywhere else, nowhere.
bool goes(Course course, double semitones);

// Whether the gesture may go from one pitch to another: in semitones above the fretted note, as a drill says them.
bool isValid(const GestureKind& kind, double fromSemitones, double toSemitones);

// "half step", "full step", "step and a half", "two steps", "quarter step"; over frets "3 frets", "octave".
std::string intervalName(Gesture gesture, double semitones);

// One of a kind's words with its places filled in.
std::string filledIn(std::string_view words, Gesture gesture, double semitones, int fret = 0);

}  // namespace landfall
