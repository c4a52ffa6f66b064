#include "src/formats/phrase_moves.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include <fmt/core.h>

#include "src/music/chord_move.h"
#include "src/music/playable.h"

namespace landfall {

namespace {

constexpr std::size_t mostGraceNotes = 16;  // before one note
constexpr double widestHint = 1.0;          // half steps; a bend under it that comes back is a hint
constexpr double hintSpare = 0.2;           // half steps about what is written: its range
constexpr double sameBend = 0.01;           // half steps
constexpr double graceLingers = 0.12;       // s; longer on a grace note, and a listener hears two notes

// Bars in the order in which they are played: repeats and their endings written out.
class Unfolding {
public:
    explicit Unfolding(const std::vector<WrittenBar>& written) : bars(written) {}

    // Empty where they are too many.
    std::vector<std::size_t> order() {
        std::vector<std::size_t> played;
        for (std::size_t i = 0; i < bars.size();) {
            if (begins(i)) {
                first = i;
                pass = 1;
            }
            jumped = false;
            const bool skipped = !bars[i].endings.empty() && !has(bars[i].endings, pass);
            if (!skipped) {
                if (played.size() == mostBars) return {};
                played.push_back(i);
            }
            if (!skipped && goesBack(i)) {
                ++pass;
                i = first;
                jumped = true;
            } else if (bars[i].timesPlayed > 1 && bars[i].endings.empty()) {
                first = ++i;
                pass = 1;
            } else {
                ++i;
            }
        }
        return played;
    }

private:
    static bool has(const std::vector<int>& numbers, int number) {
        return std::find(numbers.begin(), numbers.end(), number) != numbers.end();
    }
    // Whether a stretch that may be repeated begins here: at its sign, or behind the endings of the one before.
    bool begins(std::size_t i) const {
        if (jumped) return false;
        return bars[i].repeatBegins || (i > 0 && bars[i].endings.empty() && !bars[i - 1].endings.empty());
    }
    bool goesBack(std::size_t i) const {
        if (bars[i].timesPlayed < 2) return false;
        if (bars[i].endings.empty()) return pass < bars[i].timesPlayed;
        // Of several endings the last goes on, whatever stands at its end; one alone leads back.
        std::size_t from = i, to = i;
        while (from > first && !bars[from - 1].endings.empty()) --from;
        while (to + 1 < bars.size() && !bars[to + 1].endings.empty()) ++to;
        bool several = false, another = false;
        for (std::size_t k = from; k <= to; ++k) {
            several = several || bars[k].endings != bars[i].endings;
            another = another || has(bars[k].endings, pass + 1);
        }
        return another || !several;
    }

    const std::vector<WrittenBar>& bars;
    std::size_t first = 0;  // of the stretch that is repeated
    int pass = 1;
    bool jumped = false;
};

// Names the moves of the notes as they are played, and keeps the first thing that cannot be played.
class LineWriter {
public:
    explicit LineWriter(Tablature tablature) : score(std::move(tablature)) {
        line.title = score.title;
        line.tempo = score.tempo;
        line.openStrings = score.guitar.openStrings;
        line.capo = score.guitar.capo;
    }

    PhraseFile write(const std::vector<std::size_t>& order) {
        for (const std::size_t index : order) {
            bar = &score.bars[index];
            line.barBegins.push_back(line.length);
            for (const WrittenNote& written : bar->notes) {
                if (written.rest) silence();
                else if (written.grace) readGrace(written);
                else if (!written.with.empty()) readChord(written);
                else readNote(written);
                if (!failure.empty()) return {};
            }
            line.length += bar->length;
        }
        silence();
        return {std::move(line), score.others.lines()};
    }

    std::string failure;  // "bar 3, beat 2: ..."

private:
    using Kind = WrittenBend::Kind;

    void fail(const WrittenNote& at, std::string_view what) {
        if (failure.empty()) failure = fmt::format("{}: {}", placeInScore(*bar, at), what);
    }

    // The note or grace note that came last; none after a silence.
    const WrittenNote* last() const { return leading.empty() ? (before ? &*before : nullptr) : &leading.back(); }
    static bool isJoined(const WrittenNote& note) {
        return note.slide.stops || note.hammerOn.stops || note.pullOff.stops;
    }
    MidiPitch pitchOf(const WrittenNote& note) const { return pitchAt(score.guitar, {note.string, note.fret}); }

    // What the last note begins and `next` does not end.
    void listUnanswered(const WrittenNote* next) {
        const WrittenNote* from = last();
        if (!from) return;
        const auto list = [&](const char* name, Joint begun, bool answered) {
            if (begun.starts && !answered) score.others.add(fmt::format("{} that leads to no note", name), bar->number);
        };
        list("slide", from->slide, next && next->slide.stops);
        list("hammer-on", from->hammerOn, next && next->hammerOn.stops);
        list("pull-off", from->pullOff, next && next->pullOff.stops);
    }

    void silence() {
        listUnanswered(nullptr);
        if (!leading.empty()) score.others.add("grace note that leads to no note", bar->number);
        before.reset();
        leading.clear();
    }

    // A joint needs a note before it, on the same string, and a slide a finger on both ends.
    void checkJoint(const WrittenNote& note) {
        const std::string_view name = note.slide.stops ? "slide" : note.hammerOn.stops ? "hammer-on" : "pull-off";
        const WrittenNote* from = last();
        if (!from) return fail(note, fmt::format("a {} from no note; write the note that it comes from", name));
        if (!from->with.empty())
            return fail(note, fmt::format("a {} from a chord to one note; write all its notes, or a new stroke", name));
        if (from->string != note.string)
            return fail(note, fmt::format("a {} from string {} to string {}; it stays on one string", name,
                                          from->string, note.string));
        if (note.slide.stops && (from->fret == 0 || note.fret == 0))
            return fail(note, "a slide from or to an open string; it needs a finger on the string");
        const bool wrongWay = note.slide.stops      ? note.fret == from->fret
                              : note.hammerOn.stops ? note.fret <= from->fret
                                                    : note.fret >= from->fret;
        if (wrongWay)
            fail(note, fmt::format("a {} from fret {} to fret {}; {}", name, from->fret, note.fret,
                                   note.slide.stops      ? "a slide goes to another fret"
                                   : note.hammerOn.stops ? "a hammer-on goes up"
                                                         : "a pull-off comes down"));
    }

    void readGrace(const WrittenNote& written) {
        listUnanswered(&written);
        if (isJoined(written)) checkJoint(written);
        if (!written.bends.empty()) score.others.add("bend of a grace note", bar->number);
        if (leading.size() == mostGraceNotes)
            return fail(written, fmt::format("more than {} grace notes before a note", mostGraceNotes));
        leading.push_back(written);
    }

    void readNote(WrittenNote written) {
        if (written.tied && before && !before->with.empty()) return ringOn(written, {&written, 1});
        const double at = line.length + written.at;
        double bent = 0.0;
        if (written.tied) {
            if (!goOnTied(written)) return;
            const Move& sounding = line.moves.back().move;
            if (sounding.gesture != Gesture::hint) bent = sounding.to.value - pitchOf(written).value;
        } else {
            listUnanswered(&written);
            if (isJoined(written)) checkJoint(written);
            checkReach(written, at);
            if (!failure.empty()) return;
            firstOfNote = line.moves.size();
            bent = addFirst(written, at);
            if (written.shaken) line.moves.back().vibrato = true;
        }
        addLaterBends(written, at, bent);
        if (written.falls) addFall(written, at);
        for (std::size_t i = firstOfNote; i < line.moves.size(); ++i) line.moves[i].ends = at + written.length;
        if (line.moves.size() > mostMoves)
            fail(written, fmt::format("more than {} moves; cut a phrase out of the score", mostMoves));
        before = written;
        leading.clear();
    }

    // Strings that are struck together. A chord is held, bent, let down again, or slid to from the one before.
    void readChord(const WrittenNote& written) {
        std::vector<WrittenNote> strings{written};
        strings.insert(strings.end(), written.with.begin(), written.with.end());
        takePlaces(strings);
        if (std::ranges::any_of(strings, [](const WrittenNote& each) { return each.string == 0; }))
            return fail(written, "a tie from no chord of the same frets; write the chord that it comes from");
        std::ranges::sort(strings, {}, [&](const WrittenNote& each) { return pitchOf(each); });
        const bool fewer = before && strings.size() < before->with.size() + 1;
        if (fewer && std::ranges::all_of(strings, &WrittenNote::tied)) return ringOn(written, strings);
        listUnanswered(written.slide.stops || written.tied ? &written : nullptr);
        checkChord(written, strings);
        if (!failure.empty()) return;
        const double at = line.length + written.at;
        const bool tied = written.tied, slid = written.slide.stops;
        firstOfNote = tied ? firstOfNote : line.moves.size();
        std::vector<double> bent(strings.size(), 0.0);
        for (std::size_t j = 0; j < strings.size(); ++j)
            if (tied) bent[j] = stringsOf(line.moves.back().move)[j].to.value - pitchOf(strings[j]).value;
        if (slid) addChordSlide(written, strings, at);
        else if (!tied && bendsOf(strings, 0).empty())
            addChord(written, Gesture::note, movesOf(strings, bent, bent), at);
        for (std::size_t step = 0; !bendsOf(strings, step).empty() && failure.empty(); ++step)
            addChordBends(written, strings, step, bent, at);
        for (std::size_t i = firstOfNote; i < line.moves.size(); ++i) line.moves[i].ends = at + written.length;
        if (line.moves.size() > mostMoves)
            fail(written, fmt::format("more than {} moves; cut a phrase out of the score", mostMoves));
        before = written;
        chordBefore = strings;
        thinned = false;
    }

    // Some strings of a chord sound on while the others are let go: nothing is played. What comes then needs a stroke.
    void ringOn(const WrittenNote& written, std::span<const WrittenNote> strings) {
        for (const WrittenNote& each : strings) {
            const auto isSame = [&](const WrittenNote& was) {
                return was.string == each.string && was.fret == each.fret;
            };
            if (!leading.empty() || std::ranges::none_of(chordBefore, isSame))
                return fail(written,
                            "a tie from no note of the same string and fret; write the note that it comes from");
            if (!each.bends.empty())
                return fail(written,
                            "a bend of some strings of a chord that sound on; tie all of them, or write a new "
                            "stroke");
            if (each.shaken) score.others.add("vibrato of strings that sound on", bar->number);
            if (each.falls) score.others.add("fall of strings that sound on", bar->number);
        }
        listUnanswered(&written);
        before->slide = written.slide;
        before->hammerOn = written.hammerOn;
        before->pullOff = written.pullOff;
        thinned = true;
        for (std::size_t i = firstOfNote; i < line.moves.size(); ++i)
            line.moves[i].ends = line.length + written.at + written.length;
    }

    // Tied notes without a place stay where they are.
    void takePlaces(std::vector<WrittenNote>& strings) const {
        if (!before || before->with.empty()) return;
        for (WrittenNote& each : strings)
            for (const WrittenNote& was : chordBefore)
                if (each.string == 0 && std::ranges::count(strings, was.string, &WrittenNote::string) == 0) {
                    each.string = was.string;
                    each.fret = was.fret;
                }
    }

    void checkChord(const WrittenNote& written, std::span<const WrittenNote> strings) {
        std::vector<NeckPlace> places;
        for (const WrittenNote& each : strings) places.push_back({each.string, each.fret});
        if (const auto why = whyNotTogether(places)) return fail(written, *why);
        if (!leading.empty()) return fail(written, "a grace note before a chord; write the chord alone");
        const bool goesOn = written.tied || written.slide.stops;
        const bool same = before && !before->with.empty()
                          && std::ranges::equal(strings, chordBefore, {}, &WrittenNote::string, &WrittenNote::string);
        for (const WrittenNote& each : strings) {
            if (each.tied != written.tied || each.slide.stops != written.slide.stops)
                return fail(written, "a tie or a slide of some notes of a chord; write all of them, or none");
            if (each.shaken) score.others.add("vibrato over several strings", bar->number);
            if (each.falls) score.others.add("fall of several strings", bar->number);
            if (each.hammerOn.stops || each.pullOff.stops)
                score.others.add("hammer-on or pull-off of several strings", bar->number);
        }
        const bool sameFrets =
            same && std::ranges::equal(strings, chordBefore, {}, &WrittenNote::fret, &WrittenNote::fret);
        if (written.tied && !sameFrets)
            return fail(written, "a tie from no chord of the same frets; write the chord that it comes from");
        if (goesOn && (!same || thinned))
            return fail(written, "a tie or a slide from other strings; write the chord that it comes from");
        checkReach(*std::ranges::min_element(strings, {},
                                             [](const WrittenNote& each) { return each.fret > 0 ? each.fret : 99; }),
                   line.length + written.at);
    }

    // The strings' bends number `step`; empty where none has so many.
    static std::vector<const WrittenBend*> bendsOf(std::span<const WrittenNote> strings, std::size_t step) {
        std::vector<const WrittenBend*> bends;
        for (const WrittenNote& each : strings) bends.push_back(step < each.bends.size() ? &each.bends[step] : nullptr);
        const bool none = std::ranges::all_of(bends, [](const WrittenBend* bend) { return !bend; });
        return none ? std::vector<const WrittenBend*>() : bends;
    }

    std::vector<Move> movesOf(std::span<const WrittenNote> strings, std::span<const double> from,
                              std::span<const double> to) const {
        std::vector<Move> moves;
        for (std::size_t j = 0; j < strings.size(); ++j) {
            Move move;
            move.gesture = Gesture::note;
            move.place = NeckPlace{strings[j].string, strings[j].fret};
            move.from = MidiPitch(pitchOf(strings[j]).value + from[j]);
            move.to = MidiPitch(pitchOf(strings[j]).value + to[j]);
            moves.push_back(move);
        }
        return moves;
    }

    void addChord(const WrittenNote& at, Gesture gesture, std::vector<Move> strings, double beat, bool picked = true) {
        for (Move& each : strings)
            if (each.from != each.to) each.gesture = gesture;
        Move move = together(gesture, std::move(strings));
        if (const std::string fault = faultOf(move); !fault.empty()) return fail(at, fault);
        add(gesture, at, move.from, move.to, beat, picked);
        line.moves.back().move = std::move(move);
    }

    void addChordSlide(const WrittenNote& written, std::span<const WrittenNote> strings, double at) {
        std::vector<Move> moves;
        for (std::size_t j = 0; j < strings.size(); ++j) {
            const WrittenNote& from = chordBefore[j];
            if (from.fret == 0 || strings[j].fret == 0)
                return fail(written, "a slide from or to an open string; it needs a finger on the string");
            Move move;
            move.place = NeckPlace{from.string, from.fret};
            move.from = pitchOf(from);
            move.to = pitchOf(strings[j]);
            if (move.from != move.to) move.targetFret = strings[j].fret;
            moves.push_back(move);
        }
        addChord(written, Gesture::slide, std::move(moves), at, false);
    }

    void addChordBends(const WrittenNote& written, std::span<const WrittenNote> strings, std::size_t step,
                       std::vector<double>& bent, double at) {
        const auto bends = bendsOf(strings, step);
        const WrittenBend* first =
            *std::ranges::find_if(bends, [](const WrittenBend* bend) { return bend != nullptr; });
        const bool down = first->kind == Kind::release, struck = step == 0 && !written.tied && !written.slide.stops;
        std::vector<double> then = bent;
        for (std::size_t j = 0; j < strings.size(); ++j) {
            if (!bends[j]) continue;
            if (bends[j]->kind != first->kind || first->kind == Kind::preBend)
                return fail(written,
                            "strings of a chord that bend differently; all go up or all come down, none before "
                            "the stroke");
            then[j] += down ? -bends[j]->semitones : bends[j]->semitones;
            if (then[j] < -sameBend) return fail(written, "a release of more than the string is bent by");
            if (const auto why = whyNoBend(strings[j].fret, then[j])) return fail(written, *why);
            checkSize(written, down ? Gesture::release : Gesture::bend, bends[j]->semitones);
        }
        const double beat = struck ? at : at + written.length * first->arrives;
        if (!struck && beat < line.moves.back().beat - sameMoment)
            return fail(written, "a bend that arrives before the one before it; check 'last-beat'");
        if (failure.empty())
            addChord(written, down ? Gesture::release : Gesture::bend, movesOf(strings, bent, then), beat, struck);
        bent = std::move(then);
    }

    bool goOnTied(WrittenNote& written) {
        if (written.string == 0 && before) {
            written.string = before->string;
            written.fret = before->fret;
        }
        if (!before || !leading.empty() || !before->with.empty() || before->string != written.string
            || before->fret != written.fret) {
            fail(written, "a tie from no note of the same string and fret; write the note that it comes from");
            return false;
        }
        if (isJoined(written)) score.others.add("slide, hammer-on or pull-off within a tie", bar->number);
        if (written.shaken) line.moves.back().vibrato = true;
        return true;
    }

    void add(Gesture gesture, const WrittenNote& start, MidiPitch from, MidiPitch to, double beat, bool picked) {
        LineMove added;
        added.move.gesture = gesture;
        added.move.from = from;
        added.move.to = to;
        added.move.place = NeckPlace{start.string, start.fret};
        added.beat = beat;
        added.picked = picked;
        added.bar = bar->number;
        added.count = 1.0 + (beat - line.length) / bar->beat;
        const bool arrives = gesture == Gesture::slide || gesture == Gesture::slip || gesture == Gesture::release;
        added.anchor = arrives ? Anchor::landing : Anchor::onset;
        line.moves.push_back(added);
    }

    // Adds the move that a note begins with, and takes its bend from it. Half steps that the string is bent after it.
    double addFirst(WrittenNote& note, double at) {
        std::vector<WrittenBend>& bends = note.bends;
        const MidiPitch pitch = pitchOf(note);
        const WrittenNote* from = last();
        const bool joined = isJoined(note);
        const bool picked = !joined || (!leading.empty() && !isJoined(leading.front()));
        if (!leading.empty() && !joined) score.others.add("grace note struck for itself", bar->number);
        if (!bends.empty() && bends[0].kind != Kind::release) {
            const double size = bends[0].semitones;
            const MidiPitch top(pitch.value + size);
            const bool back = bends.size() == 2 && bends[1].kind == Kind::release;
            const bool preBend = bends[0].kind == Kind::preBend;
            const bool hint = !preBend && back && size < widestHint;
            if (preBend && joined) score.others.add("slide, hammer-on or pull-off to a pre-bend", bar->number);
            checkBend(note, size);
            if (!hint) checkSize(note, preBend ? Gesture::preBend : Gesture::bend, size);
            add(preBend ? Gesture::preBend
                : hint  ? Gesture::hint
                        : Gesture::bend,
                note, pitch, top, at, preBend || picked);
            if (hint) line.moves.back().hint = {std::max(10.0, 100.0 * (size - hintSpare)), 100.0 * (size + hintSpare)};
            bends.erase(bends.begin(), bends.begin() + (hint ? 2 : 1));
            return hint ? 0.0 : size;
        }
        if (note.slide.stops) {
            const bool slip = !leading.empty() && leading.back().slide.stops && before && before->string == note.string
                              && before->fret == note.fret;
            if (slip) {
                add(Gesture::slip, note, pitch, pitch, at, false);
            } else {
                const WrittenNote& start = leading.empty() ? *from : leading.front();
                add(Gesture::slide, start, pitchOf(start), pitch, at, picked);
                line.moves.back().move.targetFret = note.fret;
                if (!leading.empty() && picked) line.moves.back().lingers = Seconds(graceLingers);
            }
        } else if (joined) {
            add(note.hammerOn.stops ? Gesture::hammerOn : Gesture::pullOff, *from, pitchOf(*from), pitch, at, picked);
            line.moves.back().move.targetFret = note.fret;
        } else {
            add(note.shaken ? Gesture::vibrato : Gesture::note, note, pitch, pitch, at, true);
        }
        return 0.0;
    }

    // The note is left in its second half, and how far it falls is the player's.
    void addFall(const WrittenNote& note, double at) {
        if (note.fret < 3) return fail(note, "a fall from below fret 3; it needs frets to fall over");
        const MidiPitch from = pitchOf(note);
        const double frets = std::min(fallsFrets, note.fret - 1);
        const double leaves = std::max(at + 0.5 * note.length, line.moves.back().beat);
        add(Gesture::fall, note, from, MidiPitch(from.value - frets), leaves, false);
    }

    void addLaterBends(const WrittenNote& note, double at, double bent) {
        for (const WrittenBend& bend : note.bends) {
            if (bend.kind == Kind::preBend) return fail(note, "a pre-bend after the stroke; it comes before it");
            const bool down = bend.kind == Kind::release;
            const double then = bent + (down ? -bend.semitones : bend.semitones);
            if (then < -sameBend)
                return fail(note, fmt::format("a release of {:g} half steps where the string is bent by {:g}; write "
                                              "the bend before it, tied to this note",
                                              bend.semitones, bent));
            checkBend(note, then);
            checkSize(note, down ? Gesture::release : Gesture::bend, bend.semitones);
            const double beat = at + note.length * bend.arrives;
            if (beat < line.moves.back().beat - sameMoment)
                return fail(note, "a bend that arrives before the one before it; check 'last-beat'");
            const double pitch = pitchOf(note).value;
            const double notBefore = line.moves.back().beat;
            add(down ? Gesture::release : Gesture::bend, note, MidiPitch(pitch + bent), MidiPitch(pitch + then), beat,
                false);
            if (bend.leaves) line.moves.back().leaves = std::clamp(at + *bend.leaves, notBefore, beat);
            bent = then;
        }
    }

    void checkBend(const WrittenNote& note, double halfSteps) {
        if (const auto why = whyNoBend(note.fret, halfSteps)) fail(note, *why);
    }

    void checkSize(const WrittenNote& note, Gesture gesture, double halfSteps) {
        if (const auto why = whyTooSmall(gestureName(gesture), halfSteps))
            fail(note, *why + "; write its bend and its release on one note, as a hint");
    }

    // Whether the hand gets here from the last fretted note in the time between the two. Without a tempo there is none.
    void checkReach(const WrittenNote& note, double at) {
        if (note.fret == 0) return;
        if (hand && line.tempo) {
            const Seconds time((at - handBeat) * 60.0 / *line.tempo);
            const bool slid = note.slide.stops && leading.empty();
            if (const auto why = whyOutOfReach(hand->fret, note.fret, score.guitar.capo, time, slid)) fail(note, *why);
        }
        hand = note;
        handBeat = at;
    }

    Tablature score;
    Line line;
    const WrittenBar* bar = nullptr;
    std::optional<WrittenNote> before;     // the note before this one
    std::vector<WrittenNote> leading;      // grace notes on the way to it
    std::vector<WrittenNote> chordBefore;  // the last chord's strings, from low to high
    bool thinned = false;                  // some of them have been let go
    std::size_t firstOfNote = 0;           // the first move of the note that sounds
    std::optional<WrittenNote> hand;       // the last fretted note, and when
    double handBeat = 0.0;
};

}  // namespace

Result<PhraseFile> phraseOf(Tablature score, std::string_view fileName) {
    const auto bad = [&](std::string_view what) {
        return Error{Error::Code::badInput, fmt::format("{}: {}", fileName, what)};
    };
    const auto order = Unfolding(score.bars).order();
    if (order.empty())
        return bad(fmt::format("more than {} bars with all repeats; cut a phrase out of the score", mostBars));
    LineWriter writer(std::move(score));
    PhraseFile phrase = writer.write(order);
    if (!writer.failure.empty()) return bad(writer.failure);
    if (phrase.line.moves.empty()) return bad("no note to play; save the guitar's part");
    return phrase;
}

}  // namespace landfall
