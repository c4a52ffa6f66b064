#include "src/formats/midi_file.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <iterator>
#include <map>
#include <numbers>
#include <optional>
#include <vector>

#include <fmt/core.h>

#include "src/music/chord_move.h"

namespace landfall {

namespace {

constexpr double ticksAQuarter = 960.0;
constexpr int wheelRange = 24;          // half steps either way: two octaves, the furthest slide
constexpr double wheelStep = 0.005;     // s between two places of the wheel on a curve
constexpr double pickGap = 0.012;       // s between a note and the next that is picked
constexpr double legatoOverlap = 0.01;  // s that a note lasts into the one that goes on from it
constexpr int velocity = 96, legatoVelocity = 72;

// How a hand goes, in seconds: unhurried, and less where there is no room.
constexpr double bendTakes = 0.18, releaseTakes = 0.16, hintTakes = 0.12, fretTakes = 0.03, slideTakes = 0.06;
constexpr double lingers = 0.07;                                             // on a grace note before the slide from it
constexpr double startHeld = 0.06;                                           // the fretted note before a bend
constexpr double vibratoAfter = 0.3, vibratoRate = 5.5, vibratoDepth = 0.3;  // s, Hz, half steps

// A stretch of a string's way: from one pitch to another in quarters, smoothly; before and behind it the pitch stays.
struct Travel {
    double begins = 0.0, ends = 0.0;
    double to = 0.0;  // MIDI pitch
    bool shakes = false;
};

// A note as MIDI has it: struck, or going on from the one before, with its way.
struct MidiNote {
    double begins = 0.0, ends = 0.0;  // quarters
    int key = 60;
    double starts = 60.0;  // the pitch that it begins with
    bool legato = false;
    std::vector<Travel> travels;
};

// The smoothest way from 0 to 1: no jump in speed or its change (minimum jerk, Flash and Hogan 1985).
double smooth(double u) { return u * u * u * (10.0 - 15.0 * u + 6.0 * u * u); }

// The wheel for half steps from the key. Synthesisers after the SoundFont 2.01 specification (8.4.10) sound
// 127/128 of what the wheel says, others all of it: half of the difference lies on either side.
int wheelFor(double halfSteps) {
    const double place = halfSteps / wheelRange * 8192.0 * (1.0 + 1.0 / 256.0);
    return std::clamp(8192 + static_cast<int>(std::lround(place)), 0, 16383);
}

std::string bigEndian(std::uint32_t value, int bytes) {
    std::string all;
    for (int i = bytes - 1; i >= 0; --i) all.push_back(static_cast<char>((value >> (8 * i)) & 0xFFU));
    return all;
}

// Events in any order; as a track in the order of time, those of one moment in the order in which they came.
class Track {
public:
    void add(double quarters, std::string bytes) {
        events.emplace(std::max<std::int64_t>(0, std::llround((quarters + 1.0) * ticksAQuarter)), std::move(bytes));
    }
    void addAtOnce(std::string bytes) { events.emplace(0, std::move(bytes)); }
    void name(const std::string& text) { addAtOnce("\xFF\x03" + quantity(text.size()) + text); }

    std::string chunk() const {
        std::string body;
        std::int64_t now = 0;
        for (const auto& [tick, bytes] : events) {
            body += quantity(static_cast<std::uint64_t>(tick - now)) + bytes;
            now = tick;
        }
        body += std::string("\x00\xFF\x2F\x00", 4);
        return "MTrk" + bigEndian(static_cast<std::uint32_t>(body.size()), 4) + body;
    }

private:
    // A variable-length quantity: seven bits a byte, all but the last marked.
    static std::string quantity(std::uint64_t value) {
        std::string groups(1, static_cast<char>(value & 0x7FU));
        while ((value >>= 7U) != 0U) groups.insert(groups.begin(), static_cast<char>((value & 0x7FU) | 0x80U));
        return groups;
    }
    std::multimap<std::int64_t, std::string> events;
};

// The moves as notes of each string.
class Performance {
public:
    Performance(const Line& asked, double tempo) : line(asked), quartersASecond(tempo / 60.0) {
        for (std::size_t i = 0; i < line.moves.size(); ++i) play(i);
        release(line.length);
    }
    std::map<int, std::vector<MidiNote>> strings;

private:
    double quarters(double seconds) const { return seconds * quartersASecond; }
    const LineMove& move(std::size_t i) const { return line.moves[i]; }

    // Until what a move has its string for itself: its note's end, or the next move if that comes before.
    double until(std::size_t i) const {
        const double next = i + 1 < line.moves.size() ? begins(i + 1) : line.length;
        return std::max(move(i).beat, std::min(move(i).ends, next));
    }

    // When the hand sets out for a move: at its beat, or so long before that it arrives there.
    double begins(std::size_t i) const {
        const LineMove& asked = move(i);
        if (asked.leaves) return *asked.leaves;
        if (asked.anchor == Anchor::onset) return asked.beat;
        const double room = i > 0 ? asked.beat - move(i - 1).beat : 1.0;
        if (asked.move.gesture == Gesture::slide && asked.picked)
            return asked.beat - std::min(quarters(lingers) + travelTime(asked), 0.5 * room);
        return asked.beat - std::min(travelTime(asked), 0.6 * room);
    }

    double travelTime(const LineMove& asked) const {
        switch (asked.move.gesture) {
            case Gesture::slide: return quarters(slideTakes + fretTakes * std::abs(asked.move.width()));
            case Gesture::slip: return quarters(2.0 * slideTakes + 2.0 * fretTakes);
            case Gesture::release: return quarters(releaseTakes);
            default: return 0.0;
        }
    }

    void release(double at) {
        if (!sounding) return;
        double& ends = strings[sounding->first][sounding->second].ends;
        ends = std::min(ends, std::max(at, strings[sounding->first][sounding->second].begins));
    }

    MidiNote& strike(std::size_t i, double at, double pitch, double key) {
        const int string = move(i).move.place->string;
        const bool legato = !move(i).picked && sounding && sounding->first == string;
        release(legato ? at + quarters(legatoOverlap) : at - quarters(pickGap));
        std::vector<MidiNote>& notes = strings[string];
        notes.push_back({.begins = at,
                         .ends = std::max(at, move(i).ends - quarters(pickGap)),
                         .key = static_cast<int>(std::lround(key)),
                         .starts = pitch,
                         .legato = legato,
                         .travels = {}});
        sounding = {string, notes.size() - 1};
        return notes.back();
    }

    // The note that a move bends, releases or slips: the one that sounds on this very fret, else a new one.
    MidiNote& noteFor(std::size_t i, double at, double pitch) {
        const NeckPlace place = *move(i).move.place;
        if (move(i).picked || !sounding || sounding->first != place.string || finger != place.fret)
            return strike(i, at, pitch, pitch);
        MidiNote& note = strings[sounding->first][sounding->second];
        note.ends = move(i).ends - quarters(pickGap);
        return note;
    }

    void play(std::size_t i) {
        const LineMove& asked = move(i);
        const double at = begins(i), room = until(i) - asked.beat;
        const MidiNote& note = [&]() -> MidiNote& {
            switch (asked.move.gesture) {
                case Gesture::bend: return bend(i, room);
                case Gesture::hint: return hint(i, room);
                case Gesture::preBend: return strike(i, at, asked.move.to.value, asked.move.from.value);
                case Gesture::release: return travelled(noteFor(i, at, asked.move.from.value), at, asked);
                case Gesture::slide: {
                    MidiNote& struck = strike(i, at, asked.move.from.value, asked.move.to.value);
                    return travelled(struck, asked.picked ? 0.5 * (at + asked.beat) : at, asked);
                }
                case Gesture::fall: return fall(i, at);
                case Gesture::slip: {
                    MidiNote& sliding = noteFor(i, at, asked.move.from.value);
                    const double third = (asked.beat - at) / 3.0;
                    sliding.travels.push_back({at, at + third, asked.move.from.value + 1.0});
                    return travelled(sliding, asked.beat - third, asked);
                }
                default: return strike(i, at, asked.move.to.value, asked.move.to.value);
            }
        }();
        finger = asked.move.targetFret.value_or(asked.move.place->fret);
        const double arrived = note.travels.empty() ? asked.beat : std::max(asked.beat, note.travels.back().ends);
        const double shakes = arrived + std::min(quarters(vibratoAfter), 0.4 * room);
        if (asked.vibrato && until(i) - shakes > quarters(1.0 / vibratoRate))
            strings[sounding->first][sounding->second].travels.push_back({shakes, until(i), asked.move.to.value, true});
    }

    static MidiNote& travelled(MidiNote& note, double leaves, const LineMove& asked) {
        note.travels.push_back({leaves, asked.beat, asked.move.to.value});
        return note;
    }

    // The fretted note is heard first, unless it sounds already.
    MidiNote& bend(std::size_t i, double room) {
        const LineMove& asked = move(i);
        MidiNote& note = noteFor(i, asked.beat, asked.move.from.value);
        const double leaves = asked.beat + (note.begins < asked.beat ? 0.0 : std::min(quarters(startHeld), 0.2 * room));
        note.travels.push_back({leaves, leaves + std::min(quarters(bendTakes), 0.4 * room), asked.move.to.value});
        return note;
    }

    // Down at an even pace as long as the note lasts.
    MidiNote& fall(std::size_t i, double at) {
        const LineMove& asked = move(i);
        MidiNote& note = noteFor(i, at, asked.move.from.value);
        const double leaves = asked.picked ? at + std::min(quarters(lingers), 0.3 * (until(i) - at)) : at;
        note.travels.push_back({leaves, until(i), asked.move.to.value});
        return note;
    }

    MidiNote& hint(std::size_t i, double room) {
        const LineMove& asked = move(i);
        MidiNote& note = noteFor(i, asked.beat, asked.move.from.value);
        const double each = std::min(quarters(hintTakes), 0.3 * room);
        note.travels.push_back({asked.beat, asked.beat + each, asked.move.to.value});
        note.travels.push_back({asked.beat + each, asked.beat + 2.0 * each, asked.move.from.value});
        return note;
    }

    const Line& line;
    double quartersASecond;
    std::optional<std::pair<int, std::size_t>> sounding;  // string, and which of its notes
    int finger = 0;                                       // the fret of the note that sounds
};

// The line as one string of its chords plays it, from low to high: the first plays all moves of one string, too. Where it
// is held while others go on its note lasts.
Line voiceOf(const Line& line, std::size_t string) {
    Line voice = line;
    voice.moves.clear();
    for (const LineMove& each : line.moves) {
        const auto strings = stringsOf(each.move);
        if (string >= strings.size()) continue;
        if (!each.picked && each.move.gesture != Gesture::note && strings[string].gesture == Gesture::note
            && strings.size() > 1 && !voice.moves.empty()) {
            voice.moves.back().ends = each.ends;
            continue;
        }
        voice.moves.push_back(each);
        if (strings.size() > 1) voice.moves.back().move = strings[string];
    }
    return voice;
}

// Each string's notes, in the order of time.
std::map<int, std::vector<MidiNote>> notesOf(const Line& line, double tempo) {
    std::map<int, std::vector<MidiNote>> all;
    for (std::size_t string = 0; string < mostStruckTogether; ++string) {
        const Line voice = voiceOf(line, string);
        if (voice.moves.empty()) break;
        Performance performance(voice, tempo);
        for (auto& [number, notes] : performance.strings) std::ranges::move(notes, std::back_inserter(all[number]));
    }
    const double overlap = legatoOverlap * tempo / 60.0;
    for (auto& [number, notes] : all) {
        std::ranges::stable_sort(notes, {}, &MidiNote::begins);
        for (std::size_t i = 1; i < notes.size(); ++i)
            notes[i - 1].ends = std::min(notes[i - 1].ends, std::max(notes[i - 1].begins, notes[i].begins + overlap));
    }
    return all;
}

// A string's pitch at any moment of a note.
double pitchAt(const MidiNote& note, double quarters, double quartersASecond) {
    double pitch = note.starts;
    for (const Travel& travel : note.travels) {
        if (quarters < travel.begins) break;
        const bool bent = travel.to > note.key + 0.01;  // a bent note is shaken below, a fretted one above
        if (travel.shakes) {
            if (quarters >= travel.ends) continue;
            const double phase = 2.0 * std::numbers::pi * vibratoRate * (quarters - travel.begins) / quartersASecond;
            return pitch + (bent ? -0.5 : 0.5) * vibratoDepth * (1.0 - std::cos(phase));
        }
        const double width = travel.ends - travel.begins;
        const double u = width > 0.0 ? std::min(1.0, (quarters - travel.begins) / width) : 1.0;
        pitch += (travel.to - pitch) * smooth(u);
    }
    return pitch;
}

std::string message(int status, int channel, int first, int second) {
    return {static_cast<char>(status | channel), static_cast<char>(first), static_cast<char>(second)};
}

void setUp(Track& track, int channel, int program) {
    track.addAtOnce({static_cast<char>(0xC0 | channel), static_cast<char>(program)});
    // Registered parameter 0 is the wheel's range; then none, so that nothing else is set by mistake. 68: legato.
    for (const auto& [control, value] :
         {std::pair{101, 0}, {100, 0}, {6, wheelRange}, {38, 0}, {101, 127}, {100, 127}, {68, 127}})
        track.addAtOnce(message(0xB0, channel, control, value));
}

void write(Track& track, int channel, const MidiNote& note, double quartersASecond) {
    int last = -1;
    const auto wheel = [&](double quarters) {
        const int place = wheelFor(pitchAt(note, quarters, quartersASecond) - note.key);
        if (place != last) track.add(quarters, message(0xE0, channel, place & 0x7F, place >> 7));
        last = place;
    };
    wheel(note.begins);
    track.add(note.begins, message(0x90, channel, note.key, note.legato ? legatoVelocity : velocity));
    for (const Travel& travel : note.travels) {
        const double to = std::min(travel.ends, note.ends);
        for (double at = travel.begins; at < to; at += wheelStep * quartersASecond) wheel(at);
        wheel(to);
    }
    track.add(note.ends, message(0x80, channel, note.key, 0));
}

}  // namespace

std::string lineAsMidi(const Line& line, double tempo, int program) {
    const double quartersASecond = tempo / 60.0;
    std::vector<Track> tracks(1);
    tracks[0].name(line.title);
    tracks[0].addAtOnce("\xFF\x51\x03" + bigEndian(static_cast<std::uint32_t>(std::lround(60e6 / tempo)), 3));
    for (const auto& [string, notes] : notesOf(line, tempo)) {
        const int channel = string - 1;  // at most nine strings, so never the drums' channel
        Track& track = tracks.emplace_back();
        track.name(fmt::format("string {}", string));
        setUp(track, channel, program);
        for (const MidiNote& note : notes) write(track, channel, note, quartersASecond);
    }
    std::string file = "MThd" + bigEndian(6, 4) + bigEndian(1, 2)
                       + bigEndian(static_cast<std::uint32_t>(tracks.size()), 2)
                       + bigEndian(static_cast<std::uint32_t>(ticksAQuarter), 2);
    for (const Track& track : tracks) file += track.chunk();
    return file;
}

}  // namespace landfall
