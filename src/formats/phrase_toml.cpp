#include "src/formats/phrase_toml.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include <fmt/core.h>

#include "src/formats/tablature.h"
#include "src/formats/toml_reader.h"
#include "src/formats/toml_text.h"
#include "src/music/chord_move.h"
#include "src/music/guitar.h"
#include "src/music/note_name.h"
#include "src/music/playable.h"

namespace landfall {

namespace {

constexpr std::size_t longestTitle = 60;             // characters
constexpr double samePitch = 0.01;                   // half steps
constexpr double leastHint = 10.0, mostHint = 95.0;  // cents; less is not heard, more is a half step

class PhraseReader : public TomlReader {
public:
    using TomlReader::TomlReader;

    Line read(const toml::table& table) {
        checkKeys(table, {"name", "listen", "tempo", "quarters_in_a_bar", "tuning", "capo", "target", "move"});
        line.title = text(table, "name", longestTitle, true);
        line.listen = text(table, "listen", 300, false);
        if (table.get("tempo")) line.tempo = number(table, "tempo", 10.0, 400.0, 90.0);
        barQuarters = number(table, "quarters_in_a_bar", 0.5, 64.0, 4.0);
        readGuitar(table);
        const auto moves = tables(table, "move");
        if (moves.size() > mostMoves)
            fail(*moves[mostMoves], fmt::format("more than {} moves; make two phrases of it", mostMoves));
        if (!failure) line.inTime = moves.front()->get("beat") != nullptr;
        if (!failure && !line.inTime && line.tempo)
            fail(*table.get("tempo"),
                 "'tempo' is for moves with 'bar' and 'beat'; leave it out, or give every move its beat");
        for (const toml::table* each : moves)
            if (!failure) readMove(*each);
        if (!failure) finish(*moves.back());
        if (!failure && table.get("target")) readTarget(table);
        return std::move(line);
    }

private:
    LineMove& last() { return line.moves.back(); }

    void readTarget(const toml::table& table) {
        const toml::node& node = *table.get("target");
        const std::string name = text(table, "target", 20, true);
        if (name != "concert" && name != "just")
            return fail(node, "'target' must be \"concert\", or \"just\" for moves of several strings");
        if (name == "concert") return;
        line.target = Target::just;
        if (std::ranges::all_of(line.moves, [](const LineMove& each) { return each.move.with.empty(); }))
            fail(node, "'target' \"just\" holds one string against another: no move here has others, in its 'with'");
    }

    void readGuitar(const toml::table& table) {
        guitar.capo = whole(table, "capo", 0, 36, 0);
        if (const std::string written = text(table, "tuning", 60, table.get("tuning") != nullptr); !written.empty()) {
            auto strings = parseTuning(written);
            if (!strings) return fail(*table.get("tuning"), strings.error().message);
            guitar.openStrings = std::move(*strings);
        }
        const toml::node* where = table.get("tuning") ? table.get("tuning") : table.get("capo");
        if (const auto checked = checkGuitar(guitar); !checked) fail(where ? *where : table, checked.error().message);
        line.openStrings = guitar.openStrings;
        line.capo = guitar.capo;
    }

    // Of what is written well and cannot be played: where it stands in the music, too.
    void refuse(const toml::table& at, const std::string& why) {
        const std::string place = line.inTime ? fmt::format("bar {}, beat {:g}", last().bar, last().count)
                                              : fmt::format("move {}", line.moves.size());
        fail(at, place + ": " + why);
    }

    void readMove(const toml::table& table) {
        checkKeys(table, {"bar", "beat", "length", "gesture", "string", "fret", "from", "to", "goes_on", "vibrato",
                          "on_the_beat", "hint", "linger_s", "listen", "with"});
        const std::string name = text(table, "gesture", 20, true);
        for (const char* key : {"string", "fret"})
            if (!table.get(key))
                fail(table, fmt::format("'{}' is missing: expected {} = {}", key, key,
                                        *key == 's' ? "1 (the highest) to 9" : "8, where it starts"));
        if (failure) return;
        const auto gesture = parseGesture(name, Offered::inLines);
        if (!gesture) return fail(*table.get("gesture"), gesture.error().message);
        line.moves.emplace_back();
        last().move.gesture = *gesture;
        last().move.place =
            NeckPlace{whole(table, "string", 1, guitar.stringCount(), 1), whole(table, "fret", 0, 36, 0)};
        last().picked = !yesOrNo(table, "goes_on", false);
        last().vibrato = yesOrNo(table, "vibrato", *gesture == Gesture::vibrato) || *gesture == Gesture::vibrato;
        last().listen = text(table, "listen", 200, false);
        readWhen(table);
        if (!failure) readPitches(table);
        if (!failure) readOthers(table);
        if (!failure) readLimits(table);
        if (!failure) checkPlayable(table);
    }

    void readWhen(const toml::table& table) {
        const std::size_t index = line.moves.size() - 1;
        const bool timed = table.get("bar") || table.get("beat");
        if (timed != line.inTime)
            return fail(
                table, line.inTime
                           ? "'bar' and 'beat' are missing: the moves before have them; a phrase has beats or none"
                           : "'bar' and 'beat' stand here, and the moves before have none; a phrase has beats or none");
        const std::string anchor = table.get("on_the_beat") ? text(table, "on_the_beat", 20, true) : "";
        if (!anchor.empty() && anchor != "stroke" && anchor != "arrival")
            return fail(*table.get("on_the_beat"), "'on_the_beat' must be \"stroke\" or \"arrival\"");
        const Gesture gesture = last().move.gesture;
        const bool arrives = gesture == Gesture::slide || gesture == Gesture::slip || gesture == Gesture::release;
        last().anchor = (anchor.empty() ? arrives : anchor == "arrival") ? Anchor::landing : Anchor::onset;
        if (gesture == Gesture::fall && last().anchor == Anchor::landing)
            return fail(*table.get("on_the_beat"), "a fall arrives nowhere: its beat is when it begins, \"stroke\"");
        if (!line.inTime) {
            for (const char* key : {"length", "on_the_beat"})
                if (table.get(key))
                    return fail(*table.get(key), fmt::format("'{}' is for moves with 'bar' and 'beat'", key));
            last().beat = static_cast<double>(index);
            last().bar = LineMove::noBar;
            last().count = static_cast<double>(index + 1);
            return;
        }
        for (const char* key : {"bar", "beat"})
            if (!table.get(key))
                return fail(table, fmt::format("'{}' is missing: expected bar = 1, beat = 1 for the first beat", key));
        last().bar = whole(table, "bar", 1, static_cast<int>(mostBars), 1);
        last().count = number(table, "beat", 1.0, 1.0 + barQuarters - sameMoment, 1.0);
        last().beat = barQuarters * (last().bar - 1) + last().count - 1.0;
        if (index > 0 && last().beat < line.moves[index - 1].beat + sameMoment)
            return refuse(table,
                          "it comes with the move before it or earlier; strings that are struck together are one move, "
                          "the others in its 'with'");
        last().ends = 0.0;  // until the next move
        if (const toml::node* node = table.get("length"))
            last().ends = last().beat + numberNode(*node, "length", 0.01, longestNote);
    }

    void readPitches(const toml::table& table) {
        Move& move = last().move;
        const GestureKind& kind = kindOf(move.gesture);
        if (!hasPlace(guitar, *move.place))
            return refuse(table,
                          fmt::format("fret {} is not on a neck of {} frets", move.place->fret, guitar.highestFret));
        double from = number(table, "from", -24.0, 24.0, 0.0), to = number(table, "to", -24.0, 24.0, 0.0);
        const bool hint = move.gesture == Gesture::hint, fall = move.gesture == Gesture::fall;
        const toml::node* given = table.get("to") ? table.get("to") : table.get("from");
        if (given && (hint || fall)) return fail(*given, std::string(kind.valid));
        if (hint) readHint(table);
        if (hint) to = 0.005 * (last().hint.least + last().hint.most);
        if (fall) to = -std::min(fallsFrets, std::max(1, move.place->fret - 1));
        if (!isValid(kind, from, to) || (kind.overFrets && from != 0.0))
            return fail(given ? *given : table, std::string(kind.valid));
        if (kind.bends && !hint)
            if (const auto why = whyTooSmall(kind.name, to - from))
                return refuse(table, *why + "; write gesture = \"hint\" with its range");
        const double fretted = pitchAt(guitar, *move.place).value;
        move.from = MidiPitch(fretted + from);
        move.to = MidiPitch(fretted + to);
        if (kind.overFrets && kind.course != Course::stands && !fall)
            move.targetFret = move.place->fret + static_cast<int>(to);
    }

    // Strings that are struck too: with = [{ string = 2, fret = 10 }], and 'to' where it does not stay.
    void readOthers(const toml::table& table) {
        if (!table.get("with")) return;
        Move& move = last().move;
        if (!mayBeTogether(move.gesture) || last().vibrato)
            return fail(*table.get("with"),
                        "several strings at once are a note, a slide, a bend or a release, without "
                        "vibrato");
        std::vector<Move> strings{move};
        std::vector<NeckPlace> places{*move.place};
        for (const toml::table* other : tables(table, "with")) {
            checkKeys(*other, {"string", "fret", "from", "to"});
            for (const char* key : {"string", "fret"})
                if (!failure && !other->get(key)) fail(*other, fmt::format("'{}' is missing in 'with'", key));
            if (failure) return;
            Move string;
            string.place =
                NeckPlace{whole(*other, "string", 1, guitar.stringCount(), 1), whole(*other, "fret", 0, 36, 0)};
            const double from = number(*other, "from", -24.0, 24.0, 0.0), to = number(*other, "to", -24.0, 24.0, from);
            if (failure) return;
            if (!hasPlace(guitar, *string.place))
                return refuse(
                    table, fmt::format("fret {} is not on a neck of {} frets", string.place->fret, guitar.highestFret));
            const double fretted = pitchAt(guitar, *string.place).value;
            string.from = MidiPitch(fretted + from);
            string.to = MidiPitch(fretted + to);
            string.gesture = from == to ? Gesture::note : move.gesture;
            if (string.gesture == Gesture::slide) string.targetFret = string.place->fret + static_cast<int>(to);
            if (kindOf(string.gesture).bends)
                if (const auto why = whyNoBend(string.place->fret, std::max(from, to))) return refuse(table, *why);
            if (string.targetFret
                && (string.place->fret == 0 || *string.targetFret == 0 || from != 0.0
                    || !hasPlace(guitar, {string.place->string, *string.targetFret})))
                return refuse(table, "every string of a slide goes from one fret to another");
            places.push_back(*string.place);
            strings.push_back(string);
        }
        if (failure) return;
        if (const auto why = whyNotTogether(places)) return refuse(table, *why);
        std::ranges::sort(strings, {}, &Move::from);
        move = together(move.gesture, std::move(strings));
        if (const std::string fault = faultOf(move); !fault.empty()) refuse(table, fault);
    }

    void readHint(const toml::table& table) {
        const toml::node* node = table.get("hint");
        if (!node) return;  // the usual one
        const toml::array* range = node->as_array();
        if (!range || range->size() != 2)
            return fail(*node, "'hint' must be how far it goes, at least and at most, in cents: hint = [20, 60]");
        last().hint = {numberNode((*range)[0], "hint", leastHint, mostHint),
                       numberNode((*range)[1], "hint", leastHint, mostHint)};
        if (last().hint.most < last().hint.least + 5.0)
            fail(*node, "'hint' must be a range of at least 5 cents, the smaller number first: hint = [20, 60]");
    }

    void readLimits(const toml::table& table) {
        const Gesture gesture = last().move.gesture;
        if (const toml::node* node = table.get("hint"); node && gesture != Gesture::hint)
            return fail(*node, "'hint' is the range of a hint; leave it out, or write gesture = \"hint\"");
        const toml::node* lingers = table.get("linger_s");
        if (!lingers) return;
        if (!(gesture == Gesture::slide || gesture == Gesture::fall) || !last().picked)
            return fail(*lingers, "'linger_s' is how long a slide or a fall that is picked may stay on its first note");
        last().lingers = Seconds(numberNode(*lingers, "linger_s", 0.05, 10.0));
    }

    void checkPlayable(const toml::table& table) {
        const LineMove& asked = last();
        const Move& move = asked.move;
        const GestureKind& kind = kindOf(move.gesture);
        const int fret = move.place->fret;
        if (kind.bends)
            if (const auto why =
                    whyNoBend(fret, std::max(move.from.value, move.to.value) - pitchAt(guitar, *move.place).value))
                return refuse(table, *why);
        if (move.targetFret && !hasPlace(guitar, {move.place->string, *move.targetFret}))
            return refuse(table,
                          fmt::format("fret {} is not on a neck of {} frets", *move.targetFret, guitar.highestFret));
        const bool slid =
            move.gesture == Gesture::slide || move.gesture == Gesture::slip || move.gesture == Gesture::fall;
        if (slid && (fret == 0 || move.targetFret == 0))
            return refuse(table, "a slide from or to an open string; it needs a finger on the string");
        if (move.gesture == Gesture::fall && fret < 3)
            return refuse(table, "a fall from below fret 3; it needs frets to fall over");
        if (!asked.picked) checkGoesOn(table);
        const bool slides = move.gesture == Gesture::slide;
        if (!failure && line.moves.size() > 1 && line.tempo) {
            const LineMove& before = line.moves[line.moves.size() - 2];
            const int hand = before.move.targetFret.value_or(before.move.place->fret),
                      to = asked.picked ? fret : move.targetFret.value_or(fret);
            const Seconds time((asked.beat - before.beat) * 60.0 / *line.tempo);
            if (const auto why = whyOutOfReach(hand, to, guitar.capo, time, slides && !asked.picked))
                refuse(table, *why);
        }
    }

    // On the string of the move before, from the pitch where that one ended.
    void checkGoesOn(const toml::table& table) {
        if (line.moves.size() < 2) return refuse(table, "goes_on from no move; the first one needs its stroke");
        const LineMove& before = line.moves[line.moves.size() - 2];
        const Move& move = last().move;
        if (kindOf(move.gesture).ownStroke)
            return refuse(table,
                          fmt::format("a {} has a stroke of its own; leave 'goes_on' out", gestureName(move.gesture)));
        if (before.move.gesture == Gesture::fall)
            return refuse(table, "goes_on from a fall, which has no end; it needs its stroke");
        if (before.move.with.size() != move.with.size())
            return refuse(table,
                          "goes_on with more or fewer strings than the move before sounds; leave 'goes_on' out: it "
                          "needs its stroke");
        if (!move.with.empty()) {
            if (!landfall::goesOn(before.move, move))
                refuse(table, "goes_on from other strings or pitches than the move before ends on");
            return;
        }
        if (before.move.place->string != move.place->string)
            return refuse(table, fmt::format("goes_on from string {} to string {}; it stays on one string",
                                             before.move.place->string, move.place->string));
        const MidiPitch ended = before.move.gesture == Gesture::hint ? before.move.from : before.move.to;
        if (std::abs(ended.value - move.from.value) > samePitch)
            refuse(table, fmt::format("goes_on from another pitch: the move before ends on {}, this one starts on {}",
                                      pitchName(ended), pitchName(move.from)));
    }

    // "G4", or "G4 +50" between the notes.
    static std::string pitchName(MidiPitch pitch) {
        const double cents = std::round(100.0 * (pitch.value - std::floor(pitch.value + 0.005)));
        const std::string name = noteName(MidiPitch(std::floor(pitch.value + 0.005)));
        return cents == 0.0 ? name : fmt::format("{} {:+g}", name, cents);
    }

    // Notes end where they say, else where the next move begins.
    void finish(const toml::table& at) {
        double end = line.inTime ? barQuarters * last().bar : last().beat + 1.0;
        for (std::size_t i = line.moves.size(); i-- > 0;) {
            LineMove& move = line.moves[i];
            const bool final = i + 1 == line.moves.size();
            const double next = final ? std::max(end, move.ends) : line.moves[i + 1].beat;
            if (!line.inTime || move.ends == 0.0) move.ends = next;
            if (!final && move.ends > next + sameMoment && failure == std::nullopt)
                fail(at, fmt::format("bar {}, beat {:g}: its 'length' reaches into the next move; only strings that "
                                     "are struck together can sound together",
                                     move.bar, move.count));
            if (final) end = next;
        }
        line.length = end;
        for (double begin = 0.0; begin < end - sameMoment; begin += line.inTime ? barQuarters : end)
            line.barBegins.push_back(begin);
    }

    Guitar guitar;
    Line line;
    double barQuarters = 4.0;
};

}  // namespace

Result<Line> phraseIn(const toml::table& table, std::string_view fileName) {
    PhraseReader reader(fileName);
    Line line = reader.read(table);
    if (reader.failure) return *reader.failure;
    return line;
}

Result<PhraseFile> parsePhraseToml(std::string_view toml, std::string_view fileName) {
    const auto table = tomlTable(toml, fileName);
    if (!table) return table.error();
    auto line = phraseIn(*table, fileName);
    if (!line) return line.error();
    return PhraseFile{std::move(*line), {}};
}

}  // namespace landfall
