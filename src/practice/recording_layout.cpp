#include "src/practice/recording_layout.h"

#include <algorithm>
#include <cmath>

namespace landfall {

namespace {

// What a step is worth: landed as asked above landed elsewhere above tried. An unheard stroke is less likely than a
// heard one.
constexpr double asAsked = 10.0, elsewhere = 6.0, tried = 1.0, unheard = 4.0;

double worthOf(const FoundStep& step) {
    if (!step.landed()) return tried;
    const Verdict verdict = step.landing.verdict;
    return verdict == Verdict::otherInterval || verdict == Verdict::wrongFret ? elsewhere : asAsked;
}

}  // namespace

// Dynamic programming over the places, from the last one back.
RecordingLayout::RecordingLayout(const std::vector<Note>& heard, const MoveFinder& given)
    : notes(heard), finder(given) {
    for (std::size_t n = 0; n < notes.size(); ++n) {
        const auto stretches = notes[n].stretches();
        all.push_back({n, 0, finder.isOfRun(notes[n], n > 0 ? &notes[n - 1] : nullptr)});
        for (std::size_t i = 1; i < stretches.size(); ++i)
            if (stretches[i].stays()) all.push_back({n, i, false});
    }
    const std::size_t rows = finder.moves.size() + 1;
    choices.resize((all.size() + 1) * rows * 2);
    std::vector<std::vector<FoundStep>> found(finder.moves.size());
    for (std::size_t p = all.size(); p-- > 0;)
        for (const bool matched : {false, true}) {
            for (std::size_t k = 0; k < found.size(); ++k) found[k] = steps(all[p], k, matched);
            for (std::size_t from = rows; from-- > 0;)
                choices[(p * rows + from) * 2 + (matched ? 1 : 0)] = best(p, from, matched, found);
        }
}

const RecordingLayout::Choice& RecordingLayout::choice(std::size_t place, std::size_t move, bool matched) const {
    return choices[(place * (finder.moves.size() + 1) + move) * 2 + (matched ? 1 : 0)];
}

RecordingLayout::Choice RecordingLayout::best(std::size_t place, std::size_t from, bool matched,
                                              const std::vector<std::vector<FoundStep>>& found) const {
    const bool carried = all[place].stretch == 0 ? false : matched;  // a note that begins is no try yet
    Choice best{choice(place + 1, from, carried).worth, 0, 0, place + 1};
    for (std::size_t k = from; k < found.size(); ++k) {
        double sum = all[place].stretch > 0 ? -unheard : 0.0;
        for (std::size_t count = 1; count <= found[k].size(); ++count) {
            const FoundStep& step = found[k][count - 1];
            sum += worthOf(step);
            const std::size_t following = after(place, step.stop);
            const double total = sum + choice(following, k + count, true).worth;
            // Of two that are worth the same, the earlier note and the earlier move.
            if (total > best.worth || (total == best.worth && best.steps == 0)) best = {total, k, count, following};
        }
    }
    return best;
}

// The first place behind a step that came to rest on the stretch `stop`.
std::size_t RecordingLayout::after(std::size_t place, std::size_t stop) const {
    std::size_t following = place + 1;
    while (following < all.size() && all[following].note == all[place].note && all[following].stretch < stop)
        ++following;
    return following;
}

std::vector<FoundStep> RecordingLayout::steps(const Place& at, std::size_t move, bool matched) const {
    const Note& of = notes[at.note];
    const Note* before = matched || at.note == 0 ? nullptr : &notes[at.note - 1];
    if (at.stretch > 0) {
        if (std::abs(of.stretches()[at.stretch].level - 100.0 * finder.moves[move].struckNote().value)
            > finder.judging().startTolerance)
            return {};
        auto steps = finder.chain(of, move, at.stretch, finder.judging());
        if (!steps.empty() && !steps.front().landed()) steps.clear();
        return steps;
    }
    if (finder.startsOn(of, move))
        return at.run && !matched ? std::vector<FoundStep>{} : finder.chain(of, move, 0, finder.judging());
    const Note* joined = before ? finder.slidInto(*before, of, move) : nullptr;
    if (!joined) return finder.second(of, move, before);
    auto steps = finder.chain(*joined, move, 0, finder.judging());
    steps.resize(std::min<std::size_t>(steps.size(), 1));  // the stretches after it are counted anew
    for (FoundStep& step : steps) step.stop = 0;
    return steps;
}

}  // namespace landfall
