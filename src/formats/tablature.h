// Tablature as a score has it (MusicXML 4.0, score-partwise): bars of notes with string, fret and what is done to them,
// read strictly, nothing named or unfolded yet. Plain values and functions, any thread.
#pragma once

#include <map>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "src/music/guitar.h"
#include "src/system/result.h"

namespace landfall {

constexpr std::size_t largestScore = 4u << 20;  // bytes; a song of one part has a tenth of that

// Of a phrase, however it is written.
constexpr std::size_t mostBars = 1000;   // written ones, and as they are played
constexpr std::size_t mostMoves = 2000;  // a take is searched for all of them: 5 MB a second of it
constexpr double longestNote = 64.0;     // quarters
constexpr double sameMoment = 1e-6;      // quarters; sums of decimals
constexpr int fallsFrets = 7;            // as far as an open end is drawn, and played

struct WrittenBend {
    enum class Kind { up, preBend, release };
    Kind kind = Kind::up;
    double semitones = 0.0;          // its size, never negative
    double arrives = 0.75;           // as a part of the note's length
    std::optional<double> leaves{};  // quarters from the beginning of the note, of a release where it is written
};

// How a note is joined to its neighbours.
struct Joint {
    bool stops = false;   // from the note before
    bool starts = false;  // to the note after
};

struct WrittenNote {
    double at = 0.0;      // quarters from the beginning of its bar
    double length = 0.0;  // quarters; of a grace note 0
    bool rest = false;
    bool grace = false;
    bool tied = false;  // goes on from the note before
    bool shaken = false;
    bool falls = false;  // slides down at its end, to no note
    int string = 0, fret = 0;
    Joint slide, hammerOn, pullOff;
    std::vector<WrittenBend> bends;
    std::vector<WrittenNote> with{};  // the other notes of a chord
};

struct WrittenBar {
    int number = 1;       // as it is printed; of a pick-up bar 0
    double beat = 1.0;    // quarters that a beat has
    double length = 0.0;  // quarters
    std::vector<WrittenNote> notes;
    bool repeatBegins = false;
    int timesPlayed = 1;       // where a repeat ends: how often in all
    std::vector<int> endings;  // the passes that play this bar; empty: all
};

// What a score asks and this program does not understand: each kind with its bars.
class NotUnderstood {
public:
    void add(std::string_view kind, int bar);
    std::vector<std::string> lines() const;  // "trill mark: bars 2, 5"

private:
    std::map<std::string, std::set<int>> kinds;
};

struct Tablature {
    std::string title;
    std::optional<double> tempo;  // quarters a minute
    Guitar guitar;                // tuning and capo
    std::vector<WrittenBar> bars;
    NotUnderstood others;
};

// "bar 3, beat 2.5"
std::string placeInScore(const WrittenBar& bar, const WrittenNote& note);

// Errors name file, bar, beat, the reason and the remedy. Entities of the file's own are never expanded.
Result<Tablature> parseTablature(std::string_view xml, std::string_view fileName);

}  // namespace landfall
