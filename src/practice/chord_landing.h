// What is said of one move of several strings: the verdict and its sentence, from how each string landed. Pure
// functions, any thread.
#pragma once

#include <optional>
#include <span>
#include <string>

#include "dsp/units.h"
#include "src/practice/landing.h"

namespace landfall {

inline constexpr std::size_t manyStrings = 4;  // of so many some are octaves of others
inline constexpr double draggedLeast = 5.0;    // cents: a held string that was pulled by less is not told

// The pure interval of so many semitones, from whole-number ratios: a major third 5/4, a minor sixth 8/5 and so on
// (Helmholtz, On the Sensations of Tone, chapter 10, from memory); octaves added for wider ones; down where negative.
Cents pureInterval(int semitones);

// Where a yes or no is asked: one that is not sure counts as heard where it could be measured.
bool takenAsHeard(const StringLanding& string);

// How far the bent string of a unison lies from the held one, + above; empty where it was not measured.
std::optional<Cents> apartInUnison(const Landing& landing);

// The string that counts, from low to high: of those that surely sounded the furthest out, of a unison the bent one. Empty
// where one is silent or was not measured.
std::optional<std::size_t> stringThatCounts(const Landing& landing);

// What a landing at concert pitch, or the string of several that counts, is held against, on the MIDI scale.
Cents targetOf(const Landing& landing);

// From the strings: the worst one's error and doubt, its verdict, and the sentence: that string's, or all of them. Where
// one is silent nothing has landed; where one may be silent, and the others are right, nothing was measured, but of four
// strings and more what at least half of them show counts. The hold is
// what is marked: nobody pulls one string of several in alone. `aim` is what counts as right; `names` are the strings'
// own, string 1 first, where a place is known.
void sumUpStrings(Landing& landing, Cents aim, std::span<const std::string> names = {});

}  // namespace landfall
