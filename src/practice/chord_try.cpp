#include "src/practice/chord_try.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include <fmt/core.h>

#include "dsp/statistics.h"
#include "src/music/chord_move.h"
#include "src/practice/verdict.h"

namespace landfall {

namespace {

constexpr double knownAfter = 0.150;  // s of sound after a stroke that tell which strings were struck
constexpr double keptBefore = 1.0;    // s of sound that are kept where nothing is followed
constexpr double tryLeast = 0.350;    // s: shorter is no try
constexpr double ringsWithin = 15.0;  // dB under what it was when it was weighed: what is quieter so soon was muted

Move startOf(const Move& move) {
    auto strings = stringsOf(move);
    for (Move& string : strings) {
        string.to = string.from;
        string.gesture = Gesture::note;
    }
    return together(Gesture::note, std::move(strings));
}

}  // namespace

ChordTry::ChordTry(const ChordTryConfig& given, const Around& with)
    : TryMaker(with), config(given), lookedAt(with.sound.samples().size()) {
    config.judge.targets = with.finder.targets;
}

void ChordTry::begin() {
    current.reset();
    odd.reset();
    shape.reset();
    strokes.clear();
    expected = 0;
}

std::size_t ChordTry::next() const {
    if (!current) return expected;
    std::size_t step = current->first;
    while (step < current->first + current->steps.size() - 1 && current->said.contains(step)) ++step;
    return step;
}

void ChordTry::strokeHeard(const Onset& stroke, int note) {
    TryMaker::strokeHeard(stroke, note);
    const double last = !strokes.empty() ? strokes.back().time : current ? current->stroke.time : -1.0;
    if (stroke.time.value - last <= strumMost) return;
    tellOdd(false);
    strokes.push_back({stroke.time.value, note});
}

std::size_t ChordTry::lookSamples() const { return static_cast<std::size_t>(config.lookEvery * around.sound.rate()); }

std::size_t ChordTry::dampedLooks() const {
    return static_cast<std::size_t>(std::lround(config.dampedWithin / config.lookEvery));
}

void ChordTry::sound() {
    const std::size_t every = lookSamples();
    for (; around.sound.samples().size() >= lookedAt + every; lookedAt += every) {
        double power = 1e-20;
        for (const float sample : around.sound.samples().subspan(lookedAt, every))
            power += static_cast<double>(sample) * static_cast<double>(sample);
        levels.push_back(10.0 * std::log10(power / static_cast<double>(every)));
        if (levels.size() > 3 * dampedLooks()) levels.pop_front();
        loudest = std::max(loudest, levels.back());
        look();
    }
}

void ChordTry::look() {
    weigh();
    if (shape && around.sound.end() >= shape->stroke.time + config.shapeHeld) learnShape();
    if (odd && around.sound.end() >= odd->time + config.aloneLeast) tellOdd(true);
    if (current) {
        const double end = strokes.empty() ? around.sound.end() : strokes.front().time - strokeEnds;
        if (isOver()) endTry(std::min(end, around.sound.end() - config.dampedWithin));
        else grow(end);
    }
    forget();
}

// Damped, or died away, or longer than anything is followed.
bool ChordTry::isOver() const {
    const double sounded = around.sound.end() - current->stroke.time;
    if (sounded > config.longest) return true;
    if (sounded < 2.0 * config.dampedWithin || levels.size() < 3 * dampedLooks()) return false;
    const auto looks = static_cast<std::ptrdiff_t>(dampedLooks());
    const auto middle = levels.end() - looks;
    const double since = *std::max_element(middle, levels.end());
    const double before = *std::max_element(middle - looks, middle);
    return since < before - config.damped || since < loudest - config.gone;
}

std::vector<std::size_t> ChordTry::candidates(const Stroke& stroke) const {
    std::vector<std::size_t> list;
    if (expected > 0 && expected < moves().size() && stroke.time < expectedUntil) list.push_back(expected);
    if (!moves().empty()) list.push_back(0);
    return list;
}

// A stroke is a try's where the notes that a step starts on explain what sounds after it.
void ChordTry::weigh() {
    while (!strokes.empty() && around.sound.end() >= strokes.front().time + knownAfter) {
        const Stroke stroke = strokes.front();
        std::optional<std::size_t> step;
        double least = config.mostLeft;
        const auto explains = [&](const Move& move, MidiPitch Move::*end) {
            const double left = around.voices.misfit(around.sound.all(), stroke.time, around.sound.end(),
                                                     stopAt(move, end, config.judge.a4));
            return left < least && (least = left, true);
        };
        for (const std::size_t k : candidates(stroke))
            if (explains(moves()[k], &Move::from)) step = k;
        const auto lacking = around.finder.lackingTarget();
        const bool shown = lacking && explains(*lacking, &Move::to);
        if (shown) step.reset();
        const auto first = step ? firstStrokeOf(stroke, *step) : std::nullopt;
        if ((step || shown) && current) endTry(stroke.time - strokeEnds);
        strokes.erase(strokes.begin());
        shape = shown ? std::optional(Shape{stroke, *lacking}) : std::nullopt;
        if (step) {
            beginTry(stroke, *step, first);
        } else if (!current && !shown) {
            odd = stroke;
            if (stroke.time - lastStroke < config.aloneLeast) tellOdd(false);
            loudest = levels.empty() ? -200.0 : levels.back();
        }
        lastStroke = stroke.time;
    }
}

// Where each of the strings sounds, if all of them sound and stay.
void ChordTry::learnShape() {
    const Shape held = *std::exchange(shape, std::nullopt);
    tell(Noodling{now(), held.stroke.note, std::string()});
    const auto asked = stringsOf(held.move);
    const double stroke = held.stroke.time;
    std::vector<std::vector<double>> above(asked.size());
    const VoiceTracker::Stop stop[] = {stopAt(held.move, &Move::to, config.judge.a4)};
    for (const auto& frame : around.voices.follow(around.sound.all(), stroke, stroke + config.shapeHeld, stop))
        for (std::size_t j = 0; j < asked.size() && frame.time >= stroke + config.shapeFrom; ++j)
            if (frame.voices[j].own > config.judge.heardOwn)
                above[j].push_back((pitchOf(frame.voices[j].pitch, config.judge.a4) - asked[j].to).value);
    const double least = config.shapeLeast * (config.shapeHeld - config.shapeFrom) / around.voices.hop();
    const auto stays = [&](const std::vector<double>& cents) {
        return static_cast<double>(cents.size()) > least
               && std::ranges::max(cents) - std::ranges::min(cents) < config.shapeStays
               && std::abs(cents.front()) < config.otherNote;
    };
    if (!std::ranges::all_of(above, stays)) return;
    Targets& targets = around.finder.targets;
    for (std::size_t j = 0; j < asked.size(); ++j) targets.learnFret(asked[j].to, Cents(median(std::move(above[j]))));
    config.judge.targets = targets;
}

// Of a stroke that began no try: what was to be played, where it stands alone and rings.
void ChordTry::tellOdd(bool alone) {
    if (!odd) return;
    const bool rings = !levels.empty() && levels.back() > loudest - ringsWithin;
    tell(Noodling{now(), odd->note,
                  alone && rings ? fmt::format("Other notes sounded. Play {}.", notesOf(startOf(moves().front())))
                                 : std::string()});
    odd.reset();
}

// The stroke of the same shape so soon before that this one may have been a string of it that came late.
std::optional<double> ChordTry::firstStrokeOf(const Stroke& stroke, std::size_t step) const {
    if (!current || current->first != step || current->told || !current->said.empty()) return std::nullopt;
    const double first = current->firstStroke.value_or(current->stroke.time);
    return stroke.time - first < config.judge.lateLongest ? std::optional(first) : std::nullopt;
}

void ChordTry::beginTry(const Stroke& stroke, std::size_t step, std::optional<double> firstStroke) {
    const bool goesOnTry = step > 0;
    current = Sounding{
        .stroke = stroke, .number = goesOnTry ? lastNumber : stroke.note, .first = step, .firstStroke = firstStroke};
    loudest = levels.empty() ? -200.0 : levels.back();
    for (std::size_t k = step; k < moves().size() && (k == step || goesOn(moves()[k - 1], moves()[k])); ++k)
        current->steps.push_back(moves()[k]);
    around.voices.begin(stroke.time, stopsOf(current->steps, config.judge.a4));
}

// Whether the strings asked were meant: of a note that is none of those asked, beside strings that are silent, no.
bool ChordTry::isMeant(const VoiceTracker::Frame& struck) const {
    const auto asked = stopAt(current->steps.front(), &Move::from, config.judge.a4).pitches;
    bool silent = false, right = false;
    for (std::size_t j = 0; j < asked.size(); ++j) {
        const bool sounds = struck.voices[j].own > config.judge.heardOwn;
        silent = silent || !sounds;
        right = right || (sounds && abs(interval(asked[j], struck.voices[j].pitch)).value < config.otherNote);
    }
    return right || !silent;
}

// Once it is known which strings were struck: that a try has begun, or that it was noodling.
void ChordTry::know(std::span<const VoiceTracker::Frame> frames) {
    current->known = true;
    const Stroke stroke = current->stroke;
    if (isMeant(frames.back())) {
        tell(TryBegan{now(), Seconds(stroke.time), stroke.note, current->number, static_cast<int>(current->first) + 1,
                      false});
        return;
    }
    tell(Noodling{now(), stroke.note, std::string()});
    current.reset();
}

std::vector<Landing> ChordTry::judged(std::span<const VoiceTracker::Frame> frames, double end, bool over, bool whole) {
    ChordPlayed played{{frames.begin(), frames.end()}, current->stroke.time, end, over, {}, current->firstStroke};
    if (whole) {
        played.together = [this](double from, double to, const VoiceTracker::Stop& asked,
                                 const VoiceTracker::Frame& apart) {
            return around.voices.together(around.sound.all(), from, to, asked, apart);
        };
        played.since = [this](double from, const VoiceTracker::Frame& as, std::size_t strings) {
            return around.voices.since(around.sound.all(), from, as, strings);
        };
    }
    auto landings = judgeChords(current->steps, static_cast<int>(current->first) + 1, played, config.judge);
    for (Landing& landing : landings) {
        landing.note = current->stroke.note;
        landing.tryNumber = current->number;
    }
    return landings;
}

// The strings as they were followed since the last time, each against what is asked of it.
void ChordTry::show(std::span<const VoiceTracker::Frame> frames) {
    const std::size_t step = next();
    const auto asked = stringsOf(moves()[step]);
    const bool unison = isUnison(moves()[step]);
    const std::size_t held = unison ? heldString(moves()[step]) : 0;
    for (const auto& frame : frames) {
        const double time = frame.time;
        if (time <= current->shownTo) continue;
        current->shownTo = time;
        LiveStrings live{.at = now(),
                         .time = Seconds(time),
                         .note = current->stroke.note,
                         .moveNumber = static_cast<int>(step) + 1,
                         .fromTarget = {}};
        for (std::size_t j = 0; j < asked.size(); ++j) {
            const auto& voice = frame.voices[j];
            const bool sounds = voice.own > config.drawnOwn;
            live.fromTarget.push_back(
                sounds ? std::optional(interval(frequencyOf(asked[j].to, config.judge.a4), voice.pitch))
                       : std::nullopt);
        }
        auto above = config.judge.targets.of(moves()[step], live.fromTarget).above;
        // A unison is held against the string that does not move.
        if (unison && live.fromTarget[held]) std::ranges::fill(above, *live.fromTarget[held]);
        for (std::size_t j = 0; j < asked.size(); ++j)
            if (auto& each = live.fromTarget[j]) each = *each - above[j];
        tell(std::move(live));
    }
}

void ChordTry::grow(double end) {
    if (current->told) return;
    const auto frames = around.voices.goOn(around.sound.all(), end, false);
    if (frames.empty()) return;
    if (!current->known) know(frames);
    if (!current) return;
    show(frames);
    if (current->struck) return;
    const double known = frames.back().time;
    const auto& times = config.judge.judge;
    // One step after the other: what comes later must not be looked for before the one it follows has landed.
    for (const Landing& landing : judged(frames, known, false, false)) {
        const auto step = static_cast<std::size_t>(landing.moveNumber - 1);
        if (current->said.contains(step)) continue;
        if (step != current->first + current->said.size() || known < landing.landingTime->value + times.landingTo)
            break;
        for (Landing& final : judged(frames, known, false, true))
            if (final.moveNumber == landing.moveNumber) {
                current->said[step] = final;
                tell(FinalLanding{now(), std::move(final)});
            }
    }
    const auto last = current->said.find(current->first + current->steps.size() - 1);
    if (last != current->said.end() && known >= last->second.landingTime->value + times.tryMost) endSteps({}, known);
}

// Tells what is still to be told of the steps, in their order.
void ChordTry::endSteps(const std::vector<Landing>& landings, double end) {
    std::optional<std::size_t> last;
    for (std::size_t k = current->first; k < current->first + current->steps.size(); ++k) {
        const auto said = current->said.find(k);
        auto found = std::find_if(landings.begin(), landings.end(), [k](const Landing& landing) {
            return landing.moveNumber == static_cast<int>(k) + 1;
        });
        if (said == current->said.end() && found == landings.end()) break;
        Landing landing = said != current->said.end() ? said->second : *found;
        landing.end = Seconds(end);
        if (said == current->said.end()) tell(FinalLanding{now(), landing});
        ended({.move = k, .landing = landing, .stop = 0});
        last = k;
    }
    current->told = true;
    expected = last && *last + 1 < moves().size() ? *last + 1 : 0;
    expectedUntil = end + config.nextStepWithin;
    lastNumber = current->number;
}

// Whether the strings ended nearer to where they are to land than to where they were struck.
bool ChordTry::hasCome(std::span<const VoiceTracker::Frame> frames) const {
    const auto asked = stringsOf(current->steps.front());
    for (std::size_t j = 0; j < asked.size(); ++j) {
        std::vector<double> cents;
        for (const auto& frame : frames)
            if (frame.time > frames.back().time - config.shapeHeld)
                cents.push_back((pitchOf(frame.voices[j].pitch, config.judge.a4) - asked[j].to).value);
        if (std::abs(median(std::move(cents)))
            > std::max(config.otherNote, 0.5 * std::abs((asked[j].to - asked[j].from).value)))
            return false;
    }
    return true;
}

bool ChordTry::hasMoved(std::span<const VoiceTracker::Frame> frames) const {
    for (std::size_t j = 0; j <= current->steps.front().with.size(); ++j)
        for (const auto& frame : frames)
            if (abs(interval(frames.front().voices[j].pitch, frame.voices[j].pitch)).value > config.movedLeast)
                return true;
    return false;
}

void ChordTry::endTry(double end) {
    const auto frames = around.voices.goOn(around.sound.all(), end, true);
    if (!current->known && !frames.empty()) know(frames);
    if (!current) return;
    if (!current->told && !current->struck) {
        show(frames);
        const bool allSaid = current->said.size() == current->steps.size();
        const auto landings =
            allSaid || end - current->stroke.time < tryLeast ? std::vector<Landing>() : judged(frames, end, true, true);
        const Move& first = current->steps.front();
        if (!current->said.empty() || !landings.empty()) {
            endSteps(landings, end);
        } else if (end - current->stroke.time >= tryLeast && hasMoved(frames)) {
            Landing landing;
            landing.moveNumber = static_cast<int>(current->first) + 1;
            landing.move = first;
            landing.note = current->stroke.note;
            landing.tryNumber = current->number;
            landing.onset = Seconds(current->stroke.time);
            landing.end = Seconds(end);
            landing.strings.resize(first.with.size() + 1);
            const bool unclear = hasCome(frames);
            if (unclear)
                for (StringLanding& each : landing.strings) each.heard = StringHeard::notSure;
            landing.verdict = unclear ? Verdict::notMeasurable : Verdict::died;
            landing.sentence = unclear ? "The strings were not clear. Not counted." : "It did not get there.";
            endSteps({landing}, end);
        } else {
            tell(Noodling{now(), current->stroke.note,
                          end - current->stroke.time >= config.aloneLeast ? notMovedSentence(first) : std::string()});
        }
    }
    current.reset();
}

// What nothing looks back at any more.
void ChordTry::forget() {
    double needed = around.sound.end() - keptBefore;
    if (!strokes.empty()) needed = std::min(needed, strokes.front().time - keptBefore);
    const std::size_t count = std::min(lookedAt, around.sound.before(needed));
    if (current || static_cast<double>(count) < keptBefore * around.sound.rate()) return;
    around.sound.forget(count);
    lookedAt -= count;
}

void ChordTry::finish() {
    if (current) endTry(around.sound.end());
    tellOdd(false);
    strokes.clear();
}

std::optional<int> ChordTry::discardLast() {
    const bool inProgress = current && !current->struck && !current->told;
    const auto struck = strike(inProgress ? current->number : lastEnded);
    if (struck) expected = 0;
    if (struck && current && current->number == *struck) current->struck = true;
    return struck;
}

}  // namespace landfall
