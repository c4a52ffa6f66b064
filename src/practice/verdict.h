// The fixed words for a landing and its one sentence: one fault each, in the order measurable, right note, first stop,
// hold, time. Plain functions, any thread.
#pragma once

#include <string>

#include "src/music/drill.h"
#include "src/practice/landing.h"
#include "src/practice/words.h"

namespace landfall {

struct VerdictConfig {
    // Bands: interval discrimination is about 10 cents (Hill & Summers 2007); melodies sound out of tune from about 25
    // (Larrouy-Maestri 2018); 5 is as fine as one tuner's reading may be trusted against another's.
    double deadOn = 5.0, inTune = 10.0, near = 25.0;
    // What is asked of this student decides what is good. A first word that lies so near its border (cents) is worded so
    // that the marks may fall on either side: they differ by less (tests/bench/gesture_table).
    double aim = 25.0, unsure = 6.0;
    double overshootTold = 20.0;  // smaller ones are not worth the one sentence
    double sagTold = 12.0;        // as much as a correction
    // of a drill about the hold a good try is told by that; two seconds are asked, and nobody counts them exactly
    Subject subject = Subject::landing;
    double heldLeast = 1.5;
    // s from the note that is left to rest, of a drill about slowness: three seconds are asked. A half step then goes
    // 33 cents a second, so that each pitch on the way is heard before the next (a tenth of a second is 3 cents), and
    // a plain string still sounds for a hold afterwards. Nobody counts them exactly, here either.
    double slowLeast = 2.5;
    // on the note that a slide leaves, where no tempo is set: a pick stroke, a breath, off
    double lingerAllowed = 0.800;
    double lingerTold = 0.150;  // beyond that
    // Of a note that begins no try: a pre-bend so near its fretted note was not bent, so near its bent one (a fret and
    // a half) was meant to be it; so far from every fret no finger is to blame.
    double unbent = 60.0, bentNear = 150.0, mistuned = 25.0;
    int lastFret = 24;  // a note that would lie beyond was played on another string
};

// The error that counts: the first stop where the pitch was pulled in afterwards, the bottom of a vibrato, else the
// landing. Precondition: landed.
Cents markedError(const Landing& landing);

// The same, for words: the first stop where that and the marked error lie on different sides of the aim, because the
// first stop is what counts.
Cents saidError(const Landing& landing, Cents aim);

// "Dead on" to "under" and "over", whatever was asked.
Verdict bandOf(Cents error, const VerdictConfig& config = {});

// `startCents`: what the move started from, for naming the interval played.
Verdict verdictOf(const Landing& landing, double startCents, const VerdictConfig& config = {});

// How the note that landed was held, once it is over.
enum class Held { stayed, sank, shortened };
Held heldOf(const Landing& landing, const VerdictConfig& config = {});

// Whether a move that is to go slowly was there too soon.
bool isHurried(const Landing& landing, const VerdictConfig& config = {});

// Why a note that was picked at `heardCents` (MIDI scale) began no try of `asked`.
std::string notBegunSentence(const Move& asked, double heardCents, const VerdictConfig& config = {});

// Of a note that begins where `asked` does and stays there; empty where that says nothing.
std::string notMovedSentence(const Move& asked);

// Of one that begins there and stays elsewhere on its way, though no such move was heard: a jump, to the ear.
std::string notClearSentence(const Move& asked);

// Why `asked` is held against concert pitch although the own guitar's is wanted, and what to do.
std::string notHeldYetSentence(const Move& asked);

// Of a landing that still sounds: "good", "under", "just over", without a number, since that may still change.
std::string firstWord(const Landing& landing, const VerdictConfig& config = {});
// Whether it lies clear of the aim's border.
bool isClear(const Landing& landing, const VerdictConfig& config = {});

// What a player reads from across the room, and what stands below it: "28 under", "About a quarter of a fret."; of a
// landing without a sentence its first word alone.
Words wordsOf(const Landing& landing, const VerdictConfig& config = {});

// The one sentence that stands alone, of a drill's subject.
std::string completeSentence(const Landing& landing, const VerdictConfig& config);

// Precondition: landing.verdict is set.
// Of a second string that rang.
std::string besideSentence(MidiPitch note);
std::string sentenceOf(const Landing& landing, double startCents, const VerdictConfig& config = {});

}  // namespace landfall
