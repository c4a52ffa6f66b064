// From the strings as they were followed to how each of them landed. Pure functions, any thread.
#pragma once

#include <functional>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "dsp/voice_tracker.h"
#include "src/practice/chord_landing.h"
#include "src/practice/landing_judge.h"
#include "src/practice/targets.h"

namespace landfall {

constexpr double strumMost = 0.040;   // s: strings struck so far apart are one stroke
constexpr double strokeEnds = 0.005;  // s before the next one

struct ChordJudgeConfig {
    JudgeConfig judge;
    Hertz a4 = standardA4;
    Targets targets{Target::concert};
    std::vector<std::string> stringNames{};  // string 1 first, for the sentences; empty: notes are named
    // A string sounds where it alone explains so much of all power, in partials of its own (JointFit::String::clear), and
    // so much of what all strings leave: between a silent one and one 12 dB under the loudest.
    double heardOwn = 0.024, heardOverRest = 0.25;
    // Of more than three each has less: only from here down it is silent. Sampled silent ones lie under .0001.
    double silentOfMany = 0.0002;
    // Of one whose partials are other strings' but for so much (an octave, a twelfth or two octaves up under .2, else over .6): where
    // it explains so much it surely sounds, and else nobody knows. Silent ones lie under .02 in 95 of 100.
    double hiddenUnshared = 0.4, hiddenOwn = 0.04;
    double strayed = 160.0;  // cents from its note: another string's, or none
    double farApart = 60.0;  // cents: strings that each can be followed
    // A held string: how far it was pulled is known where that, or what is worth a word, is so many times its doubt.
    double surelyDragged = 2.0;  // times
    double sdTogether = 0.8;     // cents: what two strings in unison leave unsure
    // Of five and six: cents for the square root of the share of the power that nobody explains; more doubt is not sure.
    double sdUnexplained = 30.0, mostDoubtOfMany = 7.0;
    // Struck late: after a pause so long, more than twice what is taken for one stroke and what lies between the strings
    // of a strum of six in half a second; and so many times as long as any other pause between its strings: a strum may
    // be as slow as it likes, as long as it is even. After the longest it is a stroke of its own, as a try is.
    double lateLeast = 0.100, lateLongest = 0.350;  // s
    double lateTimes = 2.0;
    double sdSeveral = 0.3;  // and strings apart, beside what one alone does
};

// What was played under one stroke: the frames' times and both ends in seconds of the input.
struct ChordPlayed {
    std::vector<VoiceTracker::Frame> frames;
    double stroke = 0.0, end = 0.0;
    bool over = true;  // nothing comes any more: else a move is left out while a string of it is on its way
    // Two strings near each other, from a moment to another, as they were while apart (VoiceTracker::together).
    std::function<std::optional<VoiceTracker::Frame>(double from, double to, const VoiceTracker::Stop& asked,
                                                     const VoiceTracker::Frame& apart)>
        together;
    // The stroke that may have struck some of the strings before this one did, where there was one.
    std::optional<double> firstStroke{};
    // Since when each sounds as it does in a frame, from a moment on (VoiceTracker::since).
    std::function<std::vector<std::optional<double>>(double from, const VoiceTracker::Frame& as, std::size_t strings)>
        since{};
};

VoiceTracker::Stop stopAt(const Move& move, MidiPitch Move::*end, Hertz a4);

// `moves` follow one another under the stroke; `number` is the first one's. Those that were not played are left out.
std::vector<Landing> judgeChords(std::span<const Move> moves, int number, const ChordPlayed& played,
                                 const ChordJudgeConfig& config);

// Moves under one stroke: where their strings are to be, one stop after the other.
std::vector<VoiceTracker::Stop> stopsOf(std::span<const Move> moves, Hertz a4);

// The same from a sound that lies whole before it.
struct StrokeRead {
    std::vector<Landing> landings;
    std::vector<VoiceTracker::Frame> frames;
};
StrokeRead readStroke(VoiceTracker& voices, SoundSpan sound, std::span<const Move> moves, int number, double stroke,
                      double end, const ChordJudgeConfig& config, std::optional<double> firstStroke = {});

}  // namespace landfall
