#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "dsp/units.h"
#include "src/formats/midi_file.h"
#include "src/formats/phrase_file.h"
#include "src/music/chord_move.h"
#include "tests/support/rendered_guitar.h"

using namespace landfall;

namespace {

// A reader of our own, by the words of the Standard MIDI Files 1.0 specification (MIDI Manufacturers Association 1996):
// chunks of type and length, events after variable-length delta times; no running status is written here.
struct MidiEvent {
    std::uint32_t tick = 0;
    int status = 0, first = 0, second = 0;  // of a meta event its type first
    std::string text;
};

struct MidiReader {
    std::string bytes;
    std::size_t at = 0;

    int byte() {
        REQUIRE(at < bytes.size());
        return static_cast<unsigned char>(bytes[at++]);
    }
    std::uint32_t number(int count) {
        std::uint32_t value = 0;
        while (count-- > 0) value = value << 8U | static_cast<std::uint32_t>(byte());
        return value;
    }
    std::uint32_t quantity() {
        std::uint32_t value = 0;
        for (int i = 0; i < 4; ++i) {
            const int next = byte();
            value = value << 7U | static_cast<std::uint32_t>(next & 0x7F);
            if (next < 0x80) return value;
        }
        FAIL("a quantity of more than four bytes");
        return 0;
    }
    std::string text(std::size_t length) {
        REQUIRE(at + length <= bytes.size());
        at += length;
        return bytes.substr(at - length, length);
    }
};

std::vector<std::vector<MidiEvent>> tracksOf(const std::string& file) {
    MidiReader in{file};
    REQUIRE(in.text(4) == "MThd");
    REQUIRE(in.number(4) == 6);
    CHECK(in.number(2) == 1);
    std::vector<std::vector<MidiEvent>> tracks(in.number(2));
    CHECK(in.number(2) == 960);
    for (auto& track : tracks) {
        REQUIRE(in.text(4) == "MTrk");
        const std::size_t length = in.number(4), end = in.at + length;
        MidiEvent event;
        do {
            event.tick += in.quantity();
            event.status = in.byte();
            event.text.clear();
            REQUIRE(event.status >= 0x80);
            event.first = in.byte();
            if (event.status == 0xFF) event.text = in.text(in.quantity());
            else event.second = (event.status & 0xF0) == 0xC0 ? 0 : in.byte();
            CHECK(event.first < 0x80);
            CHECK(event.second < 0x80);
            track.push_back(event);
        } while (!(event.status == 0xFF && event.first == 0x2F));
        CHECK(in.at == end);
    }
    CHECK(in.at == file.size());
    return tracks;
}

PhraseFile phraseNamed(const char* title) {
    const auto phrase = findPhrase(title);
    REQUIRE(phrase);
    return *phrase;
}

// The pitch that stands where a move has landed, measured without anything of the program: from and to in seconds.
struct Held {
    double from = 0.0, to = 0.0;
};

// Where a move's pitch stands: after its way there, before its vibrato and the next move's way. The times are wide
// enough for what the writer may take. Hints stand nowhere.
std::optional<Held> heldOf(const Line& line, std::size_t i, double tempo) {
    const LineMove& move = line.moves[i];
    if (move.move.gesture == Gesture::hint) return std::nullopt;
    const double quarter = 60.0 / tempo;
    const bool bent = move.move.gesture == Gesture::bend;
    const double from = (move.beat + 1.0) * quarter + (bent ? 0.25 : 0.06);
    double to = (move.ends + 1.0) * quarter - 0.02;
    if (i + 1 < line.moves.size()) {
        const LineMove& next = line.moves[i + 1];
        const double way = next.anchor == Anchor::onset ? 0.02 : 0.15 + 0.03 * std::abs(next.move.width());
        to = std::min(to, (next.beat + 1.0) * quarter - way);
    }
    if (move.vibrato) to = std::min(to, from + 0.2);
    if (to - from < 0.12) return std::nullopt;
    return Held{from, std::min(to, from + 0.25)};
}

// How far a held pitch is off, in cents.
double centsOff(const std::vector<float>& sound, Held held, MidiPitch asked) {
    const double hertz = frequencyOf(asked).value;
    return interval(Hertz(hertz), Hertz(firstPartial(sound, held.from, held.to, hertz))).value;
}

// Of a sample itself: the same keys as plain notes, half a second each.
std::optional<std::map<int, double>> ownOffsets(const Line& line, int program, std::string& why) {
    Line plain;
    std::map<int, double> offsets;
    for (const LineMove& asked : line.moves)
        for (const MidiPitch pitch : {asked.move.from, asked.move.frettedNote(), asked.move.to})
            if (pitch.value == std::round(pitch.value)) offsets[static_cast<int>(pitch.value)] = 0.0;
    for (const auto& [key, none] : offsets) {
        LineMove note;
        note.move.gesture = Gesture::note;
        note.move.from = note.move.to = MidiPitch(key);
        note.move.place = NeckPlace{1, 0};
        note.beat = plain.length;
        note.ends = plain.length += 1.0;
        plain.moves.push_back(note);
    }
    const auto sound = renderMidi(lineAsMidi(plain, 120.0, program), why);
    if (!sound) return std::nullopt;
    for (std::size_t i = 0; i < plain.moves.size(); ++i)
        offsets[static_cast<int>(plain.moves[i].move.to.value)] =
            centsOff(*sound, *heldOf(plain, i, 120.0), plain.moves[i].move.to);
    return offsets;
}

}  // namespace

TEST_CASE(
    "a phrase as a MIDI file is one by the specification: chunks, tempo, a channel a string, one note at a time") {
    for (const PhraseFile& phrase : builtInPhrases()) {
        CAPTURE(phrase.line.title);
        const auto tracks = tracksOf(lineAsMidi(phrase.line, 75.0));
        REQUIRE(tracks.size() > 2);
        bool tempo = false;
        for (const MidiEvent& event : tracks[0])
            if (event.status == 0xFF && event.first == 0x51) tempo = event.text == std::string("\x0C\x35\x00", 3);
        CHECK(tempo);  // 800 000 microseconds a quarter
        std::size_t notes = 0;
        for (std::size_t t = 1; t < tracks.size(); ++t) {
            std::map<int, int> sounding;
            int range = -1, wheel = 8192;
            bool struck = false;              // a note that the wheel moves
            std::set<std::uint32_t> strokes;  // where a new key takes the jump back
            for (const MidiEvent& event : tracks[t])
                if ((event.status & 0xF0) == 0x90) strokes.insert(event.tick);
            std::map<int, int> controls;
            for (const MidiEvent& event : tracks[t]) {
                if (event.status == 0xFF) continue;
                CHECK((event.status & 0x0F) == (tracks[t][1].status & 0x0F));
                const int kind = event.status & 0xF0;
                if (kind == 0xB0) {
                    controls[event.first] = event.second;
                    if (event.first == 6 && controls[101] == 0 && controls[100] == 0) range = event.second;
                }
                if (kind == 0xE0) {  // curves are drawn, not jumped: 40 cents a step at most
                    const int place = event.first | event.second << 7;
                    if (struck && !strokes.contains(event.tick)) CHECK(std::abs(place - wheel) < 0.4 / 24.0 * 8192.0);
                    wheel = place;
                    struck = true;
                }
                if (kind == 0x80) struck = false;
                if (kind == 0x90) {
                    struck = true;
                    ++notes;
                    CHECK(range == 24);
                    ++sounding[event.first];
                }
                if (kind == 0x80) CHECK(--sounding[event.first] >= 0);
                CHECK(std::count_if(sounding.begin(), sounding.end(), [](auto& s) { return s.second > 0; }) <= 2);
            }
            for (const auto& [key, count] : sounding) CHECK(count == 0);
        }
        std::size_t asked = 0;
        for (const LineMove& move : phrase.line.moves) {
            const Gesture gesture = move.move.gesture;
            const bool within =
                gesture == Gesture::release || gesture == Gesture::slip || (gesture == Gesture::fall && !move.picked);
            for (const Move& string : stringsOf(move.move))  // a string that is held on is not struck again
                asked += within || (!move.move.with.empty() && !move.picked && string.gesture == Gesture::note) ? 0 : 1;
        }
        CHECK(notes == asked);
    }
}

TEST_CASE("a bend as MIDI lies between the two laws of the wheel; a legato note is softer than a stroke") {
    const Line line = phraseNamed("Lantern Street").line;
    const auto tracks = tracksOf(lineAsMidi(line, 76.0));
    int highest = 0;  // of the B string, which goes up by a full step at most
    for (const MidiEvent& event : tracks[2])
        if ((event.status & 0xF0) == 0xE0) highest = std::max(highest, event.first | event.second << 7);
    CHECK(tracks[2][0].text == "string 2");
    const double cents = (highest - 8192) / 8192.0 * 2400.0;
    CHECK(cents > 200.0);
    CHECK(cents < 201.0);
    CHECK(cents * 127.0 / 128.0 < 200.0);  // SoundFont 2.01, 8.4.10
    CHECK(cents * 127.0 / 128.0 > 199.0);
    std::map<int, int> velocities;
    for (const MidiEvent& event : tracks[1])
        if ((event.status & 0xF0) == 0x90) ++velocities[event.second];
    CHECK(velocities.size() == 2);
    CHECK(velocities.begin()->second == 2);  // a hammer-on and a pull-off on the high E string
}

TEST_CASE("an independent synthesiser plays a phrase back within 2 cents of what was written") {
    constexpr double tempo = 66.0;
    for (const char* title : {"Rain on the awning", "Two stairs down"}) {
        CAPTURE(title);
        const Line line = phraseNamed(title).line;
        std::string why;
        constexpr int squareLead = 80;  // a tone that stands as long as it sounds; General MIDI from 0
        const auto own = ownOffsets(line, squareLead, why);
        const auto sound = own ? renderMidi(lineAsMidi(line, tempo, squareLead), why) : std::nullopt;
        if (!sound) {
            MESSAGE("skipped: " << why);
            return;
        }
        int measured = 0;
        double worst = 0.0;
        for (std::size_t i = 0; i < line.moves.size(); ++i) {
            const auto held = heldOf(line, i, tempo);
            if (!held) continue;
            const Move& move = line.moves[i].move;
            const int key =
                static_cast<int>(std::lround(kindOf(move.gesture).bends ? move.frettedNote().value : move.to.value));
            const double off = centsOff(*sound, *held, move.to) - own->at(key);
            ++measured;
            worst = std::max(worst, std::abs(off));
            CAPTURE(i + 1);
            CAPTURE(own->at(key));
            CHECK(std::abs(off) < 2.0);
        }
        MESSAGE(measured << " of " << line.moves.size() << " moves measured, worst " << worst << " cents");
        CHECK(measured >= static_cast<int>(line.moves.size()) * 3 / 4);
    }
}
