#include "src/practice/chord_judge.h"

#include <algorithm>
#include <cmath>

#include "dsp/statistics.h"
#include "src/music/chord_move.h"

namespace landfall {

namespace {

using Frame = VoiceTracker::Frame;

constexpr std::size_t leastApart = 5;  // frames that tell whether a string sounds
constexpr double latest = 0.06;        // s: of the sound's end
constexpr double lateShown = 0.10;     // s that a string is heard for after it was struck, however late

class Reader {
public:
    Reader(std::span<const Move> given, const ChordPlayed& heard, const ChordJudgeConfig& settings)
        : moves(given), played(heard), config(settings), strings(given.front().with.size() + 1), from(strings, 0) {
        for (const Move& move : moves) asked.push_back(stringsOf(move));
        for (std::size_t j = 0; j < strings; ++j) notes.push_back(noteOf(j));
    }

    std::vector<Landing> read(int number) {
        std::vector<Landing> landings;
        for (std::size_t i = 0; i < moves.size(); ++i) {
            auto landing = readMove(i);
            if (!landing) continue;
            landing->moveNumber = number + static_cast<int>(i);
            landings.push_back(std::move(*landing));
        }
        return landings;
    }

private:
    using Frames = std::vector<const Frame*>;

    Note noteOf(std::size_t j) const {
        Note note(1, played.stroke, true);
        for (const Frame& frame : played.frames)
            note.add({.time = frame.time,
                      .cents = 100.0 * pitchOf(frame.voices[j].pitch, config.a4).value,
                      .sd = std::hypot(frame.voices[j].sd.value, config.sdSeveral),
                      .level = 10.0 * std::log10(frame.voices[j].power + 1e-14)});
        note.end = note.heardUntil = played.end;
        return note;
    }

    std::optional<Landing> readMove(std::size_t i) {
        const Move& move = moves[i];
        Landing landing;
        landing.move = move;
        landing.onset = Seconds(played.stroke);
        landing.end = Seconds(played.end);
        landing.strings.resize(strings);
        const auto arrivals = arrivalsOf(i);
        const bool anySure = std::ranges::any_of(arrivals, &Arrival::sure);
        double arrival = move.gesture == Gesture::note ? allStruckAt() : -1.0;
        for (const Arrival& each : arrivals)
            if (each.time && each.sure == anySure) arrival = std::max(arrival, *each.time);
        const bool early = !played.over && move.gesture != Gesture::note && (!anySure || isOnItsWay(i, arrivals));
        if (arrival < 0.0 || early) return std::nullopt;
        landing.landingTime = Seconds(arrival);
        for (std::size_t j = 0; j < strings; ++j)
            landing.strings[j] =
                readString(asked[i][j], j, arrival, arrivals[j].time.value_or(arrival), isUnison(move));
        if (isUnison(move) && strings == 2) readUnison(move, arrival, landing);
        addIntervals(asked[i], landing);
        if (move.gesture != Gesture::note) addDragged(asked[i], arrival, landing);
        if (i == 0) addLate(asked[i], landing);
        holdAgainstTargets(move, landing);
        sumUpStrings(landing, Cents(config.judge.aim), config.stringNames);
        return landing;
    }

    // The stroke, or where a string first sounds that did not then.
    double allStruckAt() const {
        double all = played.stroke;
        for (std::size_t j = 0; j < strings; ++j) {
            if (heardIn(j, framesIn(played.stroke, played.stroke + config.lateLeast)) == StringHeard::yes) continue;
            for (const Frame* frame : framesIn(played.stroke, played.stroke + config.lateLongest)) {
                const Frames next = framesIn(frame->time, frame->time + lateShown);
                if (next.size() < leastApart || heardIn(j, next) != StringHeard::yes) continue;
                all = std::max(all, frame->time + 0.5 * lateShown);
                break;
            }
        }
        return all;
    }

    struct Arrival {
        std::optional<double> time{};  // s
        bool sure = false;             // that the string sounds
    };

    // When each moving string that is heard came to its note.
    std::vector<Arrival> arrivalsOf(std::size_t i) {
        std::vector<Arrival> arrivals(strings);
        for (std::size_t j = 0; j < strings; ++j) {
            const Move& move = asked[i][j];
            if (move.gesture == Gesture::note) continue;
            const Move* next =
                i + 1 < moves.size() && asked[i + 1][j].gesture != Gesture::note ? &asked[i + 1][j] : nullptr;
            const auto attempt = findAttempt(move, next, notes[j], from[j], config.judge);
            if (!attempt) continue;
            const auto landing = judge(move, notes[j], *attempt, 100.0 * move.to.value, config.judge);
            if (attempt->landing) from[j] = *attempt->landing;
            if (!landing.landingTime) continue;
            const double at = landing.landingTime->value;
            const auto hold = framesIn(at + config.judge.landingFrom, at + config.judge.landingTo);
            const StringHeard heard = isUnison(moves[i]) ? StringHeard::yes : heardIn(j, hold);
            if (heard != StringHeard::no) arrivals[j] = {at, heard == StringHeard::yes};
        }
        return arrivals;
    }

    // A string that surely sounds has come nowhere yet: where another one is, is not where they land.
    bool isOnItsWay(std::size_t i, std::span<const Arrival> arrivals) const {
        const double end = played.frames.back().time;
        for (std::size_t j = 0; j < strings; ++j)
            if (asked[i][j].gesture != Gesture::note && !arrivals[j].time
                && heardIn(j, framesIn(end - latest, end)) == StringHeard::yes)
                return true;
        return false;
    }

    Frames framesIn(double begin, double end) const {
        Frames frames;
        for (const Frame& frame : played.frames)
            if (frame.time >= begin && frame.time <= std::min(end, played.end)) frames.push_back(&frame);
        return frames;
    }

    // Before a unison: where its strings could each be followed.
    Frames framesApart(double arrival) const {
        Frames frames;
        for (const Frame& frame : played.frames)
            if (frame.time < arrival
                && abs(interval(frame.voices[0].pitch, frame.voices[1].pitch)) > Cents(config.farApart))
                frames.push_back(&frame);
        return frames;
    }

    StringHeard heardIn(std::size_t j, const Frames& frames) const {
        std::vector<double> own, rest, unshared, clear;
        for (const Frame* frame : frames) {
            own.push_back(frame->voices[j].own);
            rest.push_back(frame->residual);
            unshared.push_back(frame->voices[j].unshared);
            clear.push_back(frame->voices[j].clear);
        }
        if (own.empty()) return StringHeard::no;
        const bool hidden = median(std::move(unshared)) < config.hiddenUnshared;
        const double ofMany = std::min(1.0, 3.0 / static_cast<double>(strings));
        const double least = ofMany * ofMany * (hidden ? config.hiddenOwn : config.heardOwn);
        const double alone = median(std::move(own)), clearly = median(std::move(clear));
        const double mine = hidden ? alone : std::min(alone, clearly);
        // What is no more than what nobody explains may be that.
        if (mine > least)
            return mine > (hidden && strings >= manyStrings ? 1.0 : config.heardOverRest) * median(std::move(rest))
                       ? StringHeard::yes
                       : StringHeard::notSure;
        const bool faint = strings >= manyStrings && clearly > config.silentOfMany;
        return hidden || faint ? StringHeard::notSure : StringHeard::no;
    }

    // In unison no sound can tell which string is silent; before it could.
    StringHeard heardBefore(std::size_t j, double arrival) const {
        const Frames apart = framesApart(arrival);
        return strings > 2 || apart.size() < leastApart ? StringHeard::yes : heardIn(j, apart);
    }

    // Cents that what nobody explains leaves unsure: of five and six strings some are octaves of others, and what gain adds
    // lies beside their partials.
    double amongMany(const Frames& hold) const {
        if (strings <= manyStrings || hold.empty()) return 0.0;
        std::vector<double> rest;
        for (const Frame* frame : hold) rest.push_back(frame->residual);
        return config.sdUnexplained * std::sqrt(median(std::move(rest)));
    }

    StringLanding readString(const Move& move, std::size_t j, double arrival, double own, bool unison) const {
        const JudgeConfig& times = config.judge;
        const double target = 100.0 * move.to.value, until = std::min(arrival + times.landingTo, played.end);
        StringLanding string;
        const Frames hold = framesIn(arrival + times.landingFrom, until);
        string.heard = unison ? heardBefore(j, arrival) : heardIn(j, hold);
        const Points window = between(notes[j].points(), arrival + times.landingFrom, until);
        if (string.heard == StringHeard::no || window.size() < 3) return string;
        const double level = medianOf(window);
        if (std::abs(level - target) > config.strayed) {
            if (string.heard == StringHeard::yes) string.heard = StringHeard::no;
            return string;
        }
        const double doubt = std::hypot(doubtOf(window, level, nullptr, times), amongMany(hold));
        // Lost under gain; of fewer strings, one that wavers is right all the same.
        if (strings >= manyStrings && doubt > (strings > manyStrings ? config.mostDoubtOfMany : times.mostDoubt)) {
            if (string.heard == StringHeard::yes) string.heard = StringHeard::notSure;
            return string;
        }
        string.landingError = Cents(level - target);
        string.sd = Cents(doubt);
        if (const auto first = medianCents(notes[j].points(), own + times.firstStopFrom,
                                           std::min(played.end, own + times.firstStopTo)))
            string.firstStopError = Cents(*first - target);
        return string;
    }

    // Strings so near each other are parted by a longer stretch, and by what was known of them before.
    void readUnison(const Move& move, double arrival, Landing& landing) const {
        const Frames apart = framesApart(arrival);
        if (apart.empty() || !played.together) return;
        const Frame& before = *apart[apart.size() / 2];
        const auto stop = stopAt(move, &Move::to, config.a4);
        const auto during = [&](double begin, double end) {
            return played.together(arrival + begin, std::min(arrival + end, played.end), stop, before);
        };
        const auto hold = during(config.judge.landingFrom, config.judge.landingTo);
        if (!hold) return;
        const auto first = during(config.judge.firstStopFrom, config.judge.firstStopTo);
        for (std::size_t j = 0; j < 2; ++j) {
            StringLanding& string = landing.strings[j];
            string.landingError = interval(stop.pitches[j], hold->voices[j].pitch);
            string.sd = Cents(std::hypot(hold->voices[j].sd.value, config.sdTogether));
            if (first) string.firstStopError = interval(stop.pitches[j], first->voices[j].pitch);
        }
        landing.beat = Hertz(std::abs(hold->voices[0].pitch.value - hold->voices[1].pitch.value));
    }

    static void addIntervals(std::span<const Move> strings, Landing& landing) {
        const auto& lowest = landing.strings.front().landingError;
        for (std::size_t j = 1; j < landing.strings.size() && lowest; ++j) {
            StringLanding& string = landing.strings[j];
            if (!string.landingError) continue;
            const double semitones = strings[j].to.value - strings.front().to.value;
            string.interval = *string.landingError - *lowest;
            string.pureInterval =
                *string.interval + Cents(100.0 * semitones) - pureInterval(static_cast<int>(std::lround(semitones)));
        }
    }

    // A string that is only held, against where it was before the other ones moved.
    void addDragged(std::span<const Move> move, double arrival, Landing& landing) const {
        constexpr double attack = 0.08, moving = 0.15;  // s: after the stroke; before the arrival
        for (std::size_t j = 0; j < strings; ++j) {
            if (move[j].gesture != Gesture::note || !landing.strings[j].landingError) continue;
            const Points before = between(notes[j].points(), played.stroke + attack, arrival - moving);
            if (before.empty() || heardIn(j, framesIn(played.stroke + attack, arrival - moving)) != StringHeard::yes)
                continue;
            const double level = medianOf(before);
            const double pulled = 100.0 * move[j].to.value + landing.strings[j].landingError->value - level;
            const double doubt =
                std::hypot(doubtOf(before, level, nullptr, config.judge), landing.strings[j].sd->value);
            if (config.surelyDragged * doubt < std::max(std::abs(pulled), draggedLeast))
                landing.strings[j].dragged = Cents(pulled);
        }
    }

    // Where all strings that surely sound at the landing stand where they were struck: the middle one of those frames.
    const Frame* struckTogether(std::span<const Move> move, std::span<const std::size_t> sure) const {
        Frames frames = framesIn(played.stroke, played.stroke + config.lateLongest + lateShown);
        std::erase_if(frames, [&](const Frame* frame) {
            return std::ranges::any_of(sure, [&](std::size_t j) {
                return frame->voices[j].own < config.silentOfMany
                       || std::abs((pitchOf(frame->voices[j].pitch, config.a4) - move[j].from).value) > config.strayed
                       || heardIn(j, {frame}) == StringHeard::no;
            });
        });
        return frames.size() < leastApart ? nullptr : frames[frames.size() / 2];
    }

    // Which strings were struck late: those after one long pause among strings that were else struck together.
    void addLate(std::span<const Move> move, Landing& landing) const {
        std::vector<std::size_t> sure;
        for (std::size_t j = 0; j < strings; ++j)
            if (landing.strings[j].heard == StringHeard::yes) sure.push_back(j);
        const Frames first = framesIn(played.stroke, played.stroke + config.lateLeast);
        const bool allAtOnce =
            std::ranges::all_of(sure, [&](std::size_t j) { return heardIn(j, first) == StringHeard::yes; });
        if (!played.since || sure.size() < 2 || (allAtOnce && !played.firstStroke)) return;
        const Frame* as = struckTogether(move, sure);
        if (!as) return;
        const auto since = played.since(played.firstStroke.value_or(played.stroke), *as, strings);
        std::vector<double> began;
        for (const std::size_t j : sure)
            if (since[j]) began.push_back(*since[j]);
        const auto late = pauseOf(began);
        for (const std::size_t j : sure)
            if (late && since[j] && *since[j] > late->from) landing.strings[j].late = Seconds(late->length);
    }

    struct Pause {
        double from = 0.0, length = 0.0;  // s
    };
    std::optional<Pause> pauseOf(std::vector<double> began) const {
        std::ranges::sort(began);
        Pause longest;
        double next = 0.0;
        for (std::size_t k = 1; k < began.size(); ++k) {
            const double pause = began[k] - began[k - 1];
            if (pause > longest.length) {
                next = longest.length;
                longest = {began[k - 1], pause};
            } else {
                next = std::max(next, pause);
            }
        }
        const bool isLate = longest.length >= config.lateLeast && longest.length <= config.lateLongest
                            && longest.length >= config.lateTimes * next;
        return isLate ? std::optional(longest) : std::nullopt;
    }

    // Up to here all is measured from equal temperament.
    void holdAgainstTargets(const Move& move, Landing& landing) const {
        std::vector<std::optional<Cents>> sounding;
        for (const StringLanding& string : landing.strings) sounding.push_back(string.landingError);
        const HeldTargets held = config.targets.of(move, sounding);
        landing.target = held.kind;
        for (std::size_t j = 0; j < strings; ++j) {
            StringLanding& string = landing.strings[j];
            string.target = held.above[j];
            for (auto* error : {&string.landingError, &string.firstStopError})
                if (*error) *error = **error - string.target;
        }
    }

    std::span<const Move> moves;
    std::vector<std::vector<Move>> asked{};  // the strings of each move
    const ChordPlayed& played;
    const ChordJudgeConfig& config;
    std::size_t strings;
    std::vector<Note> notes;
    std::vector<std::size_t> from;  // of each string: the stretch that its next move is looked for from
};

}  // namespace

VoiceTracker::Stop stopAt(const Move& move, MidiPitch Move::*end, Hertz a4) {
    VoiceTracker::Stop stop;
    for (const Move& string : stringsOf(move)) stop.pitches.push_back(frequencyOf(string.*end, a4));
    stop.slid = move.gesture == Gesture::slide && end == &Move::to;
    return stop;
}

std::vector<Landing> judgeChords(std::span<const Move> moves, int number, const ChordPlayed& played,
                                 const ChordJudgeConfig& config) {
    if (moves.empty() || played.frames.empty()) return {};
    return Reader(moves, played, config).read(number);
}

std::vector<VoiceTracker::Stop> stopsOf(std::span<const Move> moves, Hertz a4) {
    std::vector<VoiceTracker::Stop> stops{stopAt(moves.front(), &Move::from, a4)};
    for (const Move& move : moves)
        if (move.gesture != Gesture::note) stops.push_back(stopAt(move, &Move::to, a4));
    return stops;
}

StrokeRead readStroke(VoiceTracker& voices, SoundSpan sound, std::span<const Move> moves, int number, double stroke,
                      double end, const ChordJudgeConfig& config, std::optional<double> firstStroke) {
    ChordPlayed played{voices.follow(sound, stroke, end, stopsOf(moves, config.a4)),
                       stroke,
                       end,
                       true,
                       [&](double from, double to, const VoiceTracker::Stop& asked, const VoiceTracker::Frame& apart) {
                           return voices.together(sound, from, to, asked, apart);
                       },
                       firstStroke,
                       [&](double from, const VoiceTracker::Frame& as, std::size_t strings) {
                           return voices.since(sound, from, as, strings);
                       }};
    auto landings = judgeChords(moves, number, played, config);
    return {std::move(landings), std::move(played.frames)};
}

}  // namespace landfall
