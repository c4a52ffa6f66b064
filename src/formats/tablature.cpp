#include "src/formats/tablature.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <iterator>
#include <map>

#include <fmt/core.h>
#include <fmt/ranges.h>
#include <pugixml.hpp>

#include "src/music/note_name.h"
#include "src/system/printable.h"

namespace landfall {

namespace {

using pugi::xml_node;

constexpr int deepest = 24;              // elements within elements; the standard's own go to 9
constexpr double longestBar = 256.0;     // quarters
constexpr std::size_t longestName = 60;  // characters of the file's own text that are shown

template <typename... Names>
bool isOneOf(std::string_view name, Names... names) {
    return ((name == names) || ...);
}

std::string shortened(std::string_view text) {
    std::string shown = printable(text);
    if (characterCount(shown) <= longestName) return shown;
    std::size_t bytes = 0;
    for (std::size_t count = 0; bytes < shown.size(); ++bytes)
        if ((static_cast<unsigned char>(shown[bytes]) & 0xC0) != 0x80 && ++count > longestName - 3) break;
    return shown.substr(0, bytes) + "...";
}

// All text of an element itself, however it is cut by comments; without white space around it.
std::string textOf(const xml_node& element) {
    std::string text;
    for (const xml_node& piece : element.children())
        if (piece.type() == pugi::node_pcdata || piece.type() == pugi::node_cdata) text += piece.value();
    const auto first = text.find_first_not_of(" \t\r\n");
    if (first == std::string::npos) return {};
    return text.substr(first, text.find_last_not_of(" \t\r\n") - first + 1);
}

// A decimal as XML Schema has it: digits and a point, no exponent, no NaN.
std::optional<double> decimal(std::string_view text) {
    if (text.starts_with('+')) text.remove_prefix(1);
    if (text.empty() || text.find_first_not_of("-.0123456789") != std::string_view::npos) return {};
    double value = 0.0;
    const auto [end, fault] = std::from_chars(text.data(), text.data() + text.size(), value, std::chars_format::fixed);
    if (fault != std::errc{} || end != text.data() + text.size() || !std::isfinite(value)) return {};
    return value;
}

bool hasType(const xml_node& element, std::string_view type) { return type == element.attribute("type").value(); }

// Reads one part and keeps the first thing that is wrong with it.
class PartReader {
public:
    explicit PartReader(std::string_view name) : fileName(name) {}

    Tablature read(const xml_node& part) {
        for (const xml_node& measure : part.children("measure")) {
            if (failure) break;
            if (score.bars.size() == mostBars) fail(fmt::format("more than {} bars; cut a phrase out of it", mostBars));
            readBar(measure);
        }
        return std::move(score);
    }

    std::optional<Error> failure;

private:
    WrittenBar& bar() { return score.bars.back(); }

    void fail(const std::string& what) {
        if (failure) return;
        WrittenNote here;
        here.at = position;
        const std::string where = score.bars.empty() ? "" : placeInScore(bar(), here) + ": ";
        failure = Error{Error::Code::badInput, fmt::format("{}: {}{}", fileName, where, what)};
    }

    double number(const xml_node& element, std::string_view what, double least, double most) {
        return number(textOf(element), what, least, most);
    }
    double number(const std::string& text, std::string_view what, double least, double most) {
        const auto value = decimal(text);
        if (value && *value >= least && *value <= most) return *value;
        fail(fmt::format("{} must be a number from {:g} to {:g}, not '{}'", what, least, most, shortened(text)));
        return least;
    }
    int whole(const std::string& text, std::string_view what, int least, int most) {
        const double value = number(text, what, least, most);
        if (value != std::round(value)) fail(fmt::format("{} must be a whole number, not '{}'", what, shortened(text)));
        return static_cast<int>(value);
    }

    // By an element's name; text between elements has none.
    void lists(std::string_view kind) {
        if (kind.empty()) return;
        std::string name(kind);
        std::replace(name.begin(), name.end(), '-', ' ');
        score.others.add(shortened(name), bar().number);
    }

    void readBar(const xml_node& measure) {
        WrittenBar next;
        if (!score.bars.empty()) next.beat = bar().beat;
        const auto printed = decimal(measure.attribute("number").value());
        const bool counted = printed && *printed == std::round(*printed) && *printed >= 0.0 && *printed < 100000.0;
        next.number = counted ? static_cast<int>(*printed) : static_cast<int>(score.bars.size()) + 1;
        next.endings = openEndings;
        score.bars.push_back(std::move(next));
        position = covered = 0.0;
        for (const xml_node& element : measure.children()) {
            if (failure) return;
            const std::string_view name = element.name();
            if (name == "note") readNote(element);
            else if (name == "attributes") readAttributes(element);
            else if (name == "direction") readDirection(element);
            else if (name == "sound") readSound(element);
            else if (name == "barline") readBarline(element);
            else if (name == "forward") advance(lengthOf(element), true);
            else if (name == "backup") position = std::max(0.0, position - lengthOf(element));
            else if (!isOneOf(name, "harmony", "figured-bass", "print", "grouping", "link", "bookmark", "listening"))
                lists(name);
        }
        bar().length = covered;
        if (covered > longestBar)
            fail(fmt::format("a bar of more than {:g} quarters; check its durations", longestBar));
    }

    double lengthOf(const xml_node& element) {
        if (!element.child("duration")) fail("a note without a duration; save the score again as MusicXML");
        const double length = number(element.child("duration"), "'duration'", 0.0, 1e9) / divisions;
        if (length <= 0.0 || length > longestNote)
            fail(fmt::format("a duration must be longer than 0 and at most {:g} quarters; check it and 'divisions'",
                             longestNote));
        return length;
    }

    // Silence where nothing of another voice has been written.
    void advance(double length, bool silent) {
        if (silent && position >= covered - sameMoment) {
            WrittenNote rest;
            rest.rest = true;
            rest.at = position;
            rest.length = length;
            bar().notes.push_back(rest);
        }
        position += length;
        covered = std::max(covered, position);
    }

    void readAttributes(const xml_node& attributes) {
        for (const xml_node& element : attributes.children()) {
            const std::string_view name = element.name();
            if (name == "divisions") {
                divisions = number(element, "'divisions'", 0.0, 1e6);
                if (divisions <= 0.0) fail("'divisions' must be more than 0; save the score again as MusicXML");
            } else if (name == "time") {
                if (element.child("beat-type"))
                    bar().beat = 4.0 / number(element.child("beat-type"), "'beat-type'", 1.0, 128.0);
            } else if (name == "staff-details") {
                readStaff(element);
            } else if (name == "transpose") {
                readTransposition(element);
            } else if (name == "staves") {
                if (whole(textOf(element), "'staves'", 0, 99) > 1)
                    fail("several staves in one part; export the tablature staff alone");
            } else if (name == "measure-style") {
                for (const xml_node& style : element.children())
                    if (!isOneOf(style.name(), "multiple-rest")) lists(style.name());
            } else if (!isOneOf(name, "key", "part-symbol", "instruments", "clef", "directive", "footnote", "level")) {
                lists(name);
            }
        }
    }

    void readTransposition(const xml_node& element) {
        transposition = number(element.child("chromatic"), "'chromatic'", -48.0, 48.0);
        if (element.child("octave-change"))
            transposition += 12.0 * number(element.child("octave-change"), "'octave-change'", -4.0, 4.0);
        if (element.child("double")) lists("double");
    }

    double pitchOf(const xml_node& step, const xml_node& alter, const xml_node& octave) {
        constexpr std::array<int, 7> semitones{9, 11, 0, 2, 4, 5, 7};  // A to G
        const std::string letter = textOf(step);
        if (letter.size() != 1 || letter[0] < 'A' || letter[0] > 'G') {
            fail(fmt::format("a note's step must be A to G, not '{}'", shortened(letter)));
            return 0.0;
        }
        const double altered = alter ? number(alter, "'alter'", -4.0, 4.0) : 0.0;
        return semitones[static_cast<std::size_t>(letter[0] - 'A')] + altered
               + 12.0 * (whole(textOf(octave), "'octave'", 0, 9) + 1);
    }

    void readStaff(const xml_node& details) {
        const std::string_view staff = details.attribute("number").value();
        if (!staff.empty() && staff != "1") return;
        Guitar guitar = score.guitar;
        std::map<int, MidiPitch> lines;  // from the lowest
        for (const xml_node& tuning : details.children("staff-tuning"))
            lines[whole(tuning.attribute("line").value(), "a tuning's line", 1, 9)] = MidiPitch(
                pitchOf(tuning.child("tuning-step"), tuning.child("tuning-alter"), tuning.child("tuning-octave")));
        if (failure) return;
        if (!lines.empty()) {
            if (lines.rbegin()->first != static_cast<int>(lines.size())) {
                fail("the tuning leaves strings out; give every string its 'staff-tuning'");
                return;
            }
            guitar.openStrings.clear();
            for (auto line = lines.rbegin(); line != lines.rend(); ++line) guitar.openStrings.push_back(line->second);
        }
        if (details.child("capo")) guitar.capo = whole(textOf(details.child("capo")), "'capo'", 0, 36);
        if (const auto checked = checkGuitar(guitar); !checked) fail(checked.error().message);
        if (notesRead && (guitar.openStrings != score.guitar.openStrings || guitar.capo != score.guitar.capo))
            fail("tuning or capo change within the score; make two phrases of it");
        score.guitar = guitar;
    }

    void readDirection(const xml_node& direction) {
        const xml_node sound = direction.child("sound");
        const bool tempoTold = sound.attribute("tempo");
        for (const xml_node& type : direction.children("direction-type"))
            for (const xml_node& element : type.children()) {
                const std::string_view name = element.name();
                if (name == "metronome") {
                    if (!tempoTold) readMetronome(element);
                } else if (name == "words") {
                    if (const std::string said = textOf(element); !tempoTold && !said.empty())
                        score.others.add(fmt::format("the words '{}'", shortened(said)), bar().number);
                } else if (!isOneOf(name, "rehearsal", "symbol", "dashes", "bracket", "octave-shift", "image",
                                    "principal-voice", "staff-divide")) {
                    lists(name);
                }
            }
        if (sound) readSound(sound);
    }

    void readMetronome(const xml_node& mark) {
        constexpr std::array<std::pair<std::string_view, double>, 5> units{
            {{"whole", 4.0}, {"half", 2.0}, {"quarter", 1.0}, {"eighth", 0.5}, {"16th", 0.25}}};
        const std::string unit = textOf(mark.child("beat-unit"));
        const auto perMinute = decimal(textOf(mark.child("per-minute")));
        const auto known = std::find_if(units.begin(), units.end(), [&](const auto& u) { return u.first == unit; });
        if (known == units.end() || !perMinute || mark.child("beat-unit-tied"))
            return lists("metronome mark that is not a number of beats a minute");
        double quarters = known->second, dot = known->second;
        for ([[maybe_unused]] const xml_node& each : mark.children("beat-unit-dot")) quarters += dot *= 0.5;
        setTempo(*perMinute * quarters);
    }

    void setTempo(double quartersAMinute) {
        constexpr double slowest = 10.0, fastest = 400.0;
        if (!(quartersAMinute >= slowest && quartersAMinute <= fastest))
            return fail(fmt::format("a tempo must be {:g} to {:g} quarters a minute", slowest, fastest));
        if (!score.tempo) score.tempo = quartersAMinute;
        else if (*score.tempo != quartersAMinute) lists("change of tempo");
    }

    void readSound(const xml_node& sound) {
        for (const pugi::xml_attribute& attribute : sound.attributes()) {
            const std::string_view name = attribute.name();
            if (name == "tempo") setTempo(number(attribute.value(), "'tempo'", 0.0, 1e4));
            else if (!isOneOf(name, "id", "pan", "elevation", "divisions")) lists(name);
        }
        for (const xml_node& element : sound.children())
            if (isOneOf(element.name(), "swing", "play")) lists(element.name());
    }

    void readBarline(const xml_node& line) {
        for (const xml_node& element : line.children()) {
            const std::string_view name = element.name();
            if (name == "repeat") readRepeat(element, line.attribute("location").value());
            else if (name == "ending") readEnding(element);
            else if (isOneOf(name, "segno", "coda", "fermata", "wavy-line")) lists(name);
        }
    }

    void readRepeat(const xml_node& repeat, std::string_view location) {
        const std::string_view direction = repeat.attribute("direction").value();
        if (location == "middle") return fail("a repeat in the middle of a bar; put it on a bar line");
        if (direction == "forward") bar().repeatBegins = true;
        else if (direction == "backward")
            bar().timesPlayed =
                repeat.attribute("times") ? whole(repeat.attribute("times").value(), "'times'", 1, 99) : 2;
        else fail("a repeat that is neither forward nor backward; save the score again as MusicXML");
    }

    void readEnding(const xml_node& ending) {
        if (!hasType(ending, "start")) {
            openEndings.clear();
            return;
        }
        openEndings.clear();
        const std::string_view numbers = ending.attribute("number").value();
        for (std::size_t begin = 0; begin <= numbers.size() && !failure;) {
            const std::size_t comma = std::min(numbers.find(',', begin), numbers.size());
            std::string one(numbers.substr(begin, comma - begin));
            one.erase(std::remove(one.begin(), one.end(), ' '), one.end());
            openEndings.push_back(whole(one, "an ending's number", 1, 99));
            begin = comma + 1;
        }
        bar().endings = openEndings;
    }

    void readNote(const xml_node& element) {
        if (element.child("chord")) return readChordNote(element);
        WrittenNote note;
        note.at = position;
        note.grace = static_cast<bool>(element.child("grace"));
        note.rest = static_cast<bool>(element.child("rest"));
        if (!note.grace) note.length = lengthOf(element);
        if (failure) return;
        if (element.child("cue")) {
            lists("cue note");
            return note.grace ? void() : advance(note.length, true);
        }
        if (note.rest) return advance(note.length, true);
        if (const auto refused = cannotFollow(element)) return fail(*refused);
        notesRead = true;
        readNotations(element, note);
        readPlace(element, note);
        listOthers(element);
        bar().notes.push_back(note);
        if (!note.grace) advance(note.length, false);
    }

    // Another note of the chord that the last one began.
    void readChordNote(const xml_node& element) {
        if (element.child("cue")) return lists("cue note");
        const bool alone = bar().notes.empty() || bar().notes.back().rest || element.child("rest");
        if (alone) return fail("a note of a chord without a first one; save the score again as MusicXML");
        position -= bar().notes.back().length;  // for what is said of it
        if (bar().notes.back().grace || element.child("grace"))
            return fail("grace notes of several strings; write one string, or the chord alone");
        WrittenNote note;
        note.at = position;
        note.length = lengthOf(element);
        if (!failure && std::abs(note.length - bar().notes.back().length) > sameMoment)
            fail("the notes of a chord last differently; write them equally long");
        readNotations(element, note);
        if (!failure) readPlace(element, note);
        listOthers(element);
        if (failure) return;
        bar().notes.back().with.push_back(note);
        position += note.length;
    }

    // Why a note is none of one voice of a guitar.
    std::optional<std::string> cannotFollow(const xml_node& element) {
        if (!element.child("pitch")) return "a note without a pitch; export the guitar's staff";
        if (const std::string staff = textOf(element.child("staff")); !staff.empty() && staff != "1")
            return "a second staff; export the tablature staff alone";
        const std::string named = textOf(element.child("voice"));
        const std::string_view voice = named.empty() ? std::string_view("1") : named;
        if (notesRead && voice != firstVoice)
            return "a second voice; one voice can be followed so far: leave the others out";
        firstVoice = voice;
        if (position < covered - sameMoment)
            return "two notes at once; write strings that are struck together as a chord";
        return {};
    }

    void readPlace(const xml_node& element, WrittenNote& note) {
        const xml_node pitch = element.child("pitch");
        double sounds = pitchOf(pitch.child("step"), pitch.child("alter"), pitch.child("octave")) + transposition;
        std::string string, fret;
        for (const xml_node& notations : element.children("notations"))
            for (const xml_node& technical : notations.children("technical")) {
                if (technical.child("string")) string = textOf(technical.child("string"));
                if (technical.child("fret")) fret = textOf(technical.child("fret"));
            }
        if (string.empty() && fret.empty() && note.tied && !note.grace) return;  // it stays where it is
        if (string.empty() || fret.empty())
            return fail("a note without string and fret; write the score as tablature and export it again");
        note.string = whole(string, "'string'", 1, score.guitar.stringCount());
        note.fret = whole(fret, "'fret'", 0, 99);
        if (failure) return;
        if (!hasPlace(score.guitar, {note.string, note.fret}))
            return fail(fmt::format("fret {} is not on a neck of {} frets{}", note.fret, score.guitar.highestFret,
                                    score.guitar.capo > 0 ? " with this capo" : ""));
        const MidiPitch fretted = pitchAt(score.guitar, {note.string, note.fret});
        if (std::abs(fretted.value - sounds) > 0.01)
            fail(
                fmt::format("string {} fret {} is {}, but the note is written as {}; check tuning, capo and "
                            "transposition; a bent note is written as it is fretted",
                            note.string, note.fret, noteName(fretted), noteName(MidiPitch(sounds))));
    }

    void readNotations(const xml_node& element, WrittenNote& note) {
        for (const xml_node& tie : element.children("tie")) note.tied = note.tied || hasType(tie, "stop");
        bool slurred = false;
        note.shaken = waveOpen;
        waveBeganHere = false;
        for (const xml_node& notations : element.children("notations"))
            for (const xml_node& notation : notations.children()) {
                const std::string_view name = notation.name();
                if (name == "slide") readJoint(notation, note.slide);
                else if (name == "technical")
                    for (const xml_node& technical : notation.children()) readTechnical(technical, note);
                else if (name == "ornaments")
                    for (const xml_node& ornament : notation.children()) readOrnament(ornament, note);
                else if (name == "articulations")
                    for (const xml_node& articulation : notation.children()) readArticulation(articulation, note);
                else if (name == "slur") slurred = true;
                else if (name == "tied") listTied(notation, element);
                else if (!isOneOf(name, "tuplet", "accidental-mark", "footnote", "level")) lists(name);
            }
        const auto joins = [](Joint joint) { return joint.stops || joint.starts; };
        if (slurred && !note.tied && note.bends.empty() && !joins(note.slide) && !joins(note.hammerOn)
            && !joins(note.pullOff))
            score.others.add("slur without hammer-on, pull-off or slide", bar().number);
    }

    static void readJoint(const xml_node& element, Joint& joint) {
        if (hasType(element, "stop")) joint.stops = true;
        if (hasType(element, "start")) joint.starts = true;
    }

    // A slide down to nowhere in particular.
    void readArticulation(const xml_node& articulation, WrittenNote& note) {
        if (std::string_view(articulation.name()) == "falloff" && !note.grace) note.falls = true;
        else lists(articulation.name());
    }

    void listTied(const xml_node& tied, const xml_node& note) {
        if (hasType(tied, "let-ring")) lists("let ring");
        else if (hasType(tied, "stop") && !note.child("tie")) lists("tie that is drawn but not played");
    }

    void readTechnical(const xml_node& technical, WrittenNote& note) {
        const std::string_view name = technical.name();
        if (name == "bend") readBend(technical, note);
        else if (name == "hammer-on") readJoint(technical, note.hammerOn);
        else if (name == "pull-off") readJoint(technical, note.pullOff);
        else if (!isOneOf(name, "string", "fret", "fingering", "pluck", "up-bow", "down-bow", "open-string"))
            lists(name);
    }

    void readBend(const xml_node& element, WrittenNote& note) {
        if (element.child("with-bar")) return lists("bend with the bar");
        const double alter = number(element.child("bend-alter"), "'bend-alter'", -24.0, 24.0);
        WrittenBend bend;
        bend.semitones = std::abs(alter);
        bend.kind = element.child("pre-bend")  ? WrittenBend::Kind::preBend
                    : element.child("release") ? WrittenBend::Kind::release
                                               : WrittenBend::Kind::up;
        if (const auto last = element.attribute("last-beat"))
            bend.arrives = number(last.value(), "'last-beat'", 0.0, 100.0) / 100.0;
        if (const auto offset = element.child("release").attribute("offset")) {
            const double leaves = number(offset.value(), "'offset'", -1e9, 1e9) / divisions;
            if (leaves >= 0.0 && leaves <= note.length) bend.leaves = leaves;
            else lists("release that begins outside its note");
        }
        if (alter == 0.0)
            return fail("a bend of 0 half steps; write how far it goes, of a release how far it comes down, as -2");
        if (alter < 0.0 && bend.kind == WrittenBend::Kind::up)
            return fail("a bend goes up; mark what comes down with <release/>");
        note.bends.push_back(bend);
    }

    void readOrnament(const xml_node& ornament, WrittenNote& note) {
        const std::string_view name = ornament.name();
        if (name == "wavy-line") {
            if (hasType(ornament, "start")) note.shaken = waveOpen = waveBeganHere = true;
            if (hasType(ornament, "stop")) {
                // A line that ends at the head of another note does not shake that one.
                note.shaken = waveBeganHere;
                waveOpen = false;
            }
        } else if (name != "accidental-mark") {
            lists(name);
        }
    }

    void listOthers(const xml_node& element) {
        for (const pugi::xml_attribute& attribute : element.attributes())
            if (isOneOf(attribute.name(), "attack", "release", "time-only", "pizzicato")) lists(attribute.name());
        for (const xml_node& child : element.children()) {
            const std::string_view name = child.name();
            if (name == "notehead") {
                if (const std::string head = textOf(child); isOneOf(head, "x", "cross", "circle-x", "slash"))
                    lists("muted note");
            } else if (!isOneOf(name, "chord", "grace", "pitch", "duration", "tie", "voice", "type", "dot",
                                "accidental", "time-modification", "stem", "notehead-text", "staff", "beam",
                                "notations", "lyric", "instrument", "listen", "footnote", "level")) {
                lists(name);
            }
        }
    }

    std::string_view fileName;
    Tablature score;
    double divisions = 1.0, transposition = 0.0;
    double position = 0.0, covered = 0.0;  // quarters from the beginning of the bar
    bool notesRead = false, waveOpen = false, waveBeganHere = false;
    std::string firstVoice;
    std::vector<int> openEndings;
};

// The library does without recursion, but nobody writes such a score.
struct DepthWalker : pugi::xml_tree_walker {
    bool for_each(xml_node&) override { return depth() < deepest; }
};

std::size_t lineOf(std::string_view text, std::ptrdiff_t offset) {
    const auto end = text.begin() + std::clamp<std::ptrdiff_t>(offset, 0, std::ssize(text));
    return 1 + static_cast<std::size_t>(std::count(text.begin(), end, '\n'));
}

// The one part that has notes.
Result<xml_node> soundingPart(const xml_node& root, std::string_view fileName) {
    const auto bad = [&](std::string_view what) {
        return Error{Error::Code::badInput, fmt::format("{}: {}", fileName, what)};
    };
    if (std::string_view(root.name()) == "score-timewise")
        return bad("a score by time; save it as MusicXML by parts (score-partwise)");
    if (std::string_view(root.name()) != "score-partwise")
        return bad(
            fmt::format("'{}' is not a score; save it as uncompressed MusicXML (.musicxml)", shortened(root.name())));
    const auto sounds = [](const xml_node& part) {
        for (const xml_node& measure : part.children("measure"))
            for (const xml_node& note : measure.children("note"))
                if (!note.child("rest")) return true;
        return false;
    };
    xml_node found;
    for (const xml_node& part : root.children("part")) {
        if (!sounds(part)) continue;
        if (found)
            return bad(fmt::format("bar 1: more than one part has notes; export the guitar's part '{}' alone",
                                   shortened(found.attribute("id").value())));
        found = part;
    }
    if (!found) return bad("a score without notes; save it as MusicXML with the guitar's part");
    return found;
}

}  // namespace

void NotUnderstood::add(std::string_view kind, int bar) {
    constexpr std::size_t most = 40;
    const std::string name(kind);
    if (kinds.size() < most || kinds.contains(name)) kinds[name].insert(bar);
    else kinds["more of other kinds"].insert(bar);
}

std::vector<std::string> NotUnderstood::lines() const {
    constexpr std::ptrdiff_t shown = 12;
    std::vector<std::string> lines;
    for (const auto& [name, bars] : kinds) {
        const auto end = std::next(bars.begin(), std::min(shown, std::ssize(bars)));
        std::string line =
            fmt::format("{}: bar{} {}", name, bars.size() == 1 ? "" : "s", fmt::join(bars.begin(), end, ", "));
        if (std::ssize(bars) > shown) line += fmt::format(" and {} more", std::ssize(bars) - shown);
        lines.push_back(line);
    }
    return lines;
}

std::string placeInScore(const WrittenBar& bar, const WrittenNote& note) {
    return fmt::format("bar {}, beat {:g}", bar.number, 1.0 + std::round(note.at / bar.beat * 100.0) / 100.0);
}

Result<Tablature> parseTablature(std::string_view xml, std::string_view fileName) {
    const auto bad = [&](std::string_view what) {
        return Error{Error::Code::badInput, fmt::format("{}: {}", fileName, what)};
    };
    if (xml.size() > largestScore)
        return bad(fmt::format("{} bytes are too many for a phrase; cut a phrase out of the score", xml.size()));
    if (xml.starts_with("PK\x03\x04")) return bad("a compressed score; save it as uncompressed .musicxml");
    pugi::xml_document document;
    const auto parsed = document.load_buffer(xml.data(), xml.size(), pugi::parse_default);
    if (!parsed)
        return Error{
            Error::Code::badInput,
            fmt::format("{}:{}: this is not well-formed XML; save it again as uncompressed MusicXML (.musicxml)",
                        fileName, lineOf(xml, parsed.offset))};
    DepthWalker walker;
    if (!document.traverse(walker))
        return bad(fmt::format("more than {} elements within each other; it is not a score", deepest));
    const xml_node root = document.document_element();
    const auto part = soundingPart(root, fileName);
    if (!part) return part.error();
    PartReader reader(fileName);
    Tablature score = reader.read(*part);
    if (reader.failure) return *reader.failure;
    score.title = shortened(textOf(root.child("work").child("work-title")));
    if (score.title.empty()) score.title = shortened(textOf(root.child("movement-title")));
    return score;
}

}  // namespace landfall
