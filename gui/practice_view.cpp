#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <span>
#include <string>

#include "gui/screen_view.h"
#include "gui/views.h"
#include "gui/words.h"

namespace landfall {

namespace {

constexpr std::size_t mostTraces = 12;

float px(double value) { return static_cast<float>(value); }

// Whether it takes the big line now. A try that was marked all the same is said first.
bool takesBigLine(const Snapshot& snapshot, Trouble trouble) {
    const Moment moment = snapshot.stones ? snapshot.stones->moment : snapshot.practice.moment;
    const bool marked = moment == Moment::landed;
    return stopsPractice(trouble) && !(marked && (trouble == Trouble::tooQuiet || trouble == Trouble::roomTooLoud));
}

// The first of the troubles that only need to be known; the others are counted.
std::optional<TroubleWords> knownTrouble(const Snapshot& snapshot) {
    std::optional<TroubleWords> first;
    int more = 0;
    for (const Notice& notice : snapshot.notices) {
        if (snapshot.screen == Screen::practice && takesBigLine(snapshot, notice.trouble)) continue;
        if (first) ++more;
        else first = troubleWords(notice);
    }
    if (more) first->remedy += fmt::format("  (and {} more)", more);
    return first;
}

Words bigLine(const Snapshot& snapshot) {
    if (const auto stopped = stoppedBy(snapshot)) return *stopped;
    const Practice& practice = snapshot.practice;
    switch (practice.moment) {
        case Moment::waiting:
        case Moment::playing: return {practice.prompt, practice.sentence};
        case Moment::landed: return {practice.landed, practice.sentence};
        case Moment::between: return {"", practice.sentence};
        case Moment::warmUp: return {"Warm up", practice.sentence};
        case Moment::rest:
            return {"Rest",
                    practice.sentence.empty() ? "Take your hand off the neck and shake it out." : practice.sentence};
        case Moment::endOfDrill: return {practice.summary, practice.sentence};
    }
    return {};
}

// As many of the newest as stand clear of each other, whole tries only.
void drawLastMarks(Canvas& canvas, const Practice& practice, const Box& box) {
    const float radius = canvas.unit(2.25), gap = canvas.unit(1.5), between = canvas.unit(4);
    const auto words = [](const TryMark& mark) {
        return mark.firstStop ? signedCents(*mark.firstStop) : std::string("lost");
    };
    const std::size_t there = std::min<std::size_t>(practice.lastMarks.size(), 5);
    const auto marks = std::span(practice.lastMarks).last(there);
    float widest = canvas.textWidth("−88", TextSize::big);
    for (const TryMark& mark : marks) widest = std::max(widest, canvas.textWidth(words(mark), TextSize::big));
    const float column = std::max(box.width / 5.0f, 2.0f * radius + gap + widest + between);
    std::size_t first =
        there
        - std::min(there, std::max<std::size_t>(1, static_cast<std::size_t>((box.width + between + 1.0f) / column)));
    while (first > 0 && first + 1 < there && marks[first].step > 0) ++first;
    for (std::size_t i = first; i < there; ++i) {
        const TryMark& mark = marks[i];
        const float x = box.x + column * px(static_cast<double>(i - first));
        // The steps of one try are joined.
        if (i > first && mark.step > 0)
            canvas.line(x - 0.75f * between, box.y + 0.5f * box.height, x - 0.25f * between, box.y + 0.5f * box.height,
                        canvas.colours.quiet, canvas.unit(0.25));
        canvas.mark(shapeOf(mark), x + radius, box.y + 0.5f * box.height, radius);
        canvas.text(x + 2.0f * radius + gap, box.y, words(mark), TextSize::big, i + 1 == there ? Ink::full : Ink::quiet,
                    widest);
    }
}

// The band and the start fret of each step, with their labels in the gutter.
void drawTargets(Canvas& canvas, const Practice& practice, const SweepScale& scale) {
    const Box& box = scale.box;
    const float small = canvas.lineHeight(TextSize::small), half = small / 2.0f, labels = box.x - canvas.unit(1.5);
    const auto count = practice.steps.size();
    std::vector<float> taken;  // heights in the gutter that have a label
    const auto free = [&](float y) {
        return std::none_of(taken.begin(), taken.end(),
                            [&](float other) { return std::abs(other - y) < 1.1f * small; });
    };
    // The step asked now first: its band is the plain one, and its labels come before the others'.
    for (std::size_t i = 0; i < count; ++i) {
        const std::size_t step = (i + static_cast<std::size_t>(std::max(0, practice.step))) % count;
        const int number = static_cast<int>(step);
        const float top = scale.y(practice.aim, number), bottom = scale.y(-practice.aim, number),
                    middle = scale.y(Cents(0.0), number);
        drawAim(canvas, {box.x, top, box.width, bottom - top}, i == 0 ? 1.0f : 0.4f);
        canvas.line(box.x, middle, box.right(), middle, canvas.colours.quiet, canvas.unit(0.25), i == 0 ? 1.0f : 0.5f);
        if (!free(middle)) continue;
        canvas.text(labels, middle - half, count == 1 ? "target" : fmt::format("target {}", number + 1),
                    TextSize::small, i == 0 ? Ink::full : Ink::quiet, 0.0f, Side::right);
        taken.push_back(middle);
        // The aim in figures at the band's upper edge, where it stands clear of "target".
        if (i > 0 || !free(top)) continue;
        canvas.text(labels, top - half, signedCents(practice.aim) + " ¢", TextSize::small, Ink::quiet, 0.0f,
                    Side::right);
        taken.push_back(top);
    }
    for (const SweepStep& step : practice.steps) {
        if (!step.start) continue;
        const float start = scale.y(*step.start);
        const bool onTarget = std::any_of(practice.steps.begin(), practice.steps.end(), [&](const SweepStep& other) {
            return abs(other.target - *step.start).value < 1.0;
        });
        if (onTarget) continue;
        canvas.dashes(box.x, box.right(), start, canvas.colours.quiet);
        if (!free(start)) continue;
        canvas.text(labels, start - half, "start fret", TextSize::small, Ink::quiet, 0.0f, Side::right);
        taken.push_back(start);
    }
}

}  // namespace

std::optional<Words> stoppedBy(const Snapshot& snapshot) {
    for (const Notice& notice : snapshot.notices) {
        if (!takesBigLine(snapshot, notice.trouble)) continue;
        const TroubleWords words = troubleWords(notice);
        return Words{words.what, words.remedy};
    }
    return std::nullopt;
}

namespace {

constexpr double leastForNames = 20.0;  // units: in a smaller stone there is no room

using Polylines = std::vector<std::vector<ImVec2>>;

// Where a pitch was heard without a break.
Polylines runsOf(const SweepScale& scale, const std::vector<TracePoint>& trace) {
    Polylines runs;
    bool broken = true;
    for (const TracePoint& point : trace) {
        if (point.sinceStroke.value > scale.length.value) break;
        if (!point.fromTarget) {
            broken = true;
            continue;
        }
        if (broken) runs.emplace_back();
        broken = false;
        // Closer than two pixels nothing is gained, and vertices are counted in 16 bits.
        const float x = scale.x(point.sinceStroke);
        if (runs.back().empty() || x - runs.back().back().x >= 2.0f)
            runs.back().push_back({x, scale.y(*point.fromTarget)});
    }
    return runs;
}

// Cut into dashes of `on` with `off` between them.
Polylines dashed(const Polylines& runs, float on, float off) {
    Polylines dashes;
    for (const auto& run : runs) {
        float along = 0.0f;
        bool drawing = false;
        for (std::size_t i = 0; i + 1 < run.size(); ++i) {
            const bool draws = std::fmod(along, on + off) < on;
            if (draws && !drawing) dashes.push_back({run[i]});
            if (draws) dashes.back().push_back(run[i + 1]);
            drawing = draws;
            along += std::hypot(run[i + 1].x - run[i].x, run[i + 1].y - run[i].y);
        }
    }
    return dashes;
}

// Heights, from the top down, as near as can be to those wanted and none nearer to the next than `apart`: what is too
// near is pooled about its mean.
std::vector<float> spread(const std::vector<float>& wanted, float apart) {
    struct Pool {
        float sum;  // of the heights wanted, each less its place in the row
        std::size_t count;
        float mean() const { return sum / static_cast<float>(count); }
    };
    std::vector<Pool> pools;
    for (std::size_t i = 0; i < wanted.size(); ++i) {
        pools.push_back({wanted[i] - apart * static_cast<float>(i), 1});
        while (pools.size() > 1 && pools[pools.size() - 2].mean() > pools.back().mean()) {
            const Pool last = pools.back();
            pools.pop_back();
            pools.back() = {pools.back().sum + last.sum, pools.back().count + last.count};
        }
    }
    std::vector<float> heights;
    for (const Pool& pool : pools)
        for (std::size_t i = 0; i < pool.count; ++i)
            heights.push_back(pool.mean() + apart * static_cast<float>(heights.size()));
    return heights;
}

// At the ends of their lines, from the top down, none over another; each is led to from its line.
void nameStrings(Canvas& canvas, const Box& box, std::vector<std::pair<ImVec2, std::string>> names, float alpha) {
    if (names.empty()) return;
    std::stable_sort(names.begin(), names.end(), [](const auto& a, const auto& b) { return a.first.y < b.first.y; });
    std::vector<float> wanted;
    for (const auto& [at, name] : names) wanted.push_back(at.y);
    const auto apart = [&canvas](TextSize size) { return 0.75f * canvas.lineHeight(size); };
    const bool fits = static_cast<float>(names.size()) * apart(TextSize::medium) < box.height;
    const TextSize size = fits ? TextSize::medium : TextSize::small;
    const float half = 0.5f * canvas.lineHeight(size);
    std::vector<float> heights = spread(wanted, apart(size));
    const float outside =
        std::max(0.0f, box.y + half - heights.front()) + std::min(0.0f, box.bottom() - half - heights.back());
    for (float& height : heights) height += outside;
    for (std::size_t i = 0; i < names.size(); ++i) {
        const ImVec2 at = names[i].first;
        const float x = std::min(at.x + canvas.unit(2.5), box.right() - canvas.unit(6));
        const std::vector<ImVec2> lead{at, {x - canvas.unit(0.5), heights[i]}};
        if (std::abs(heights[i] - at.y) > 0.5f * half)
            canvas.polyline(lead, canvas.colours.quiet, canvas.unit(0.15), alpha);
        canvas.text(x, heights[i] - half, names[i].second, size, Ink::full);
    }
}

// Several strings, told apart by their lines and by their names: the lowest whole, the next in dashes, the third in dots,
// the others the same in thin lines.
void drawStrings(Canvas& canvas, const SweepScale& scale, const std::vector<StringTrace>& strings, bool newest,
                 float alpha) {
    const float thickness = canvas.unit(newest ? 0.5 : 0.25);
    std::vector<std::pair<ImVec2, std::string>> names;
    for (std::size_t j = 0; j < strings.size(); ++j) {
        Polylines runs = runsOf(scale, strings[j].points);
        if (!runs.empty()) names.emplace_back(runs.back().back(), strings[j].name);
        if (j % 3 > 0) runs = dashed(runs, canvas.unit(j % 3 == 1 ? 2.5 : 0.7), canvas.unit(j % 3 == 1 ? 1.0 : 1.3));
        for (const auto& run : runs)
            canvas.polyline(run, canvas.colours.ink, j < 3 ? thickness : 0.5f * thickness, alpha);
    }
    if (!newest || scale.box.width < canvas.unit(leastForNames)) return;
    nameStrings(canvas, scale.box, std::move(names), alpha);
}

}  // namespace

void drawTrace(Canvas& canvas, const SweepScale& scale, const Trace& trace, bool newest, float alpha) {
    for (const auto& run : runsOf(scale, trace.points))
        canvas.polyline(run, canvas.colours.ink, canvas.unit(newest ? 0.5 : 0.25), alpha);
    drawStrings(canvas, scale, trace.strings, newest, alpha);
    for (const TryMark& mark : trace.marks) {
        if (!mark.firstStop || !mark.arrival || mark.arrival->value > scale.length.value) continue;
        canvas.mark(shapeOf(mark), scale.x(*mark.arrival), scale.y(*mark.firstStop, mark.step),
                    canvas.unit(newest ? 1.5 : 0.8), alpha);
    }
}

void drawAim(Canvas& canvas, const Box& band, float alpha) {
    canvas.hatch(band, canvas.colours.rule, 0.75f * alpha);
    // Whole rows of pixels: a thin line between two of them is a faint one.
    const float thick = std::max(1.0f, std::round(canvas.unit(0.15)));
    for (const float y : {band.y, band.bottom()})
        canvas.fill({band.x, std::round(y - 0.5f * thick), band.width, thick}, canvas.colours.quiet, aimEdge * alpha);
}

Shape shapeOf(const TryMark& mark) {
    const bool lost =
        mark.verdict == Verdict::died || mark.verdict == Verdict::twoStrings || mark.verdict == Verdict::notMeasurable;
    if (lost || !mark.firstStop) return Shape::lost;
    if (mark.inside) return Shape::inside;
    return mark.firstStop->value < 0.0 ? Shape::under : Shape::over;
}

float SweepScale::x(Seconds sinceStroke) const {
    return box.x + box.width * px(std::clamp(sinceStroke.value / length.value, 0.0, 1.0));
}

double SweepScale::stretched(Cents fromFirst) const {
    double sum = 0.0;
    for (const Cents target : targets) sum += std::asinh((fromFirst - target).value / aim.value);
    return sum;
}

float SweepScale::y(Cents fromFirst) const {
    const double share = (stretched(std::clamp(fromFirst, low, high)) - lowest) / (highest - lowest);
    return box.y + box.height * px(1.0 - share);
}

float SweepScale::y(Cents fromTarget, int step) const {
    const auto of = static_cast<std::size_t>(std::max(0, step));
    return y(of < targets.size() ? fromTarget + targets[of] : fromTarget);
}

SweepScale sweepScale(const Box& box, Cents aim, const std::vector<SweepStep>& steps, Seconds length) {
    SweepScale scale{box, Cents(std::max(aim.value, 5.0)), {}, Seconds(std::max(length.value, 0.5))};
    Cents least(0.0), most(0.0), widest(0.0);
    for (const SweepStep& step : steps) {
        scale.targets.push_back(step.target);
        least = std::min({least, step.target, step.start.value_or(step.target)});
        most = std::max({most, step.target, step.start.value_or(step.target)});
        widest = std::max(widest, abs(step.start.value_or(step.target) - step.target));
    }
    if (scale.targets.size() < 2) {
        const Cents reach(std::max(120.0, 1.5 * widest.value));
        scale.show(-reach, reach);
    } else {
        const Cents beyond(std::max(120.0, 0.5 * (most - least).value));
        scale.show(least - beyond, most + beyond);
    }
    return scale;
}

void SweepScale::show(Cents from, Cents to) {
    if (targets.empty()) targets.push_back(Cents(0.0));
    low = from;
    high = to;
    lowest = stretched(from);
    highest = stretched(to);
}

PracticeLayout practiceLayout(const Canvas& canvas, int sentenceLines) {
    const float margin = canvas.unit(5), across = canvas.width() - 2.0f * margin;
    PracticeLayout layout;
    layout.header = {margin, canvas.unit(3), across,
                     canvas.lineHeight(TextSize::medium) + canvas.lineHeight(TextSize::small)};
    layout.big = {margin, layout.header.bottom() + canvas.unit(1), across, canvas.lineHeight(TextSize::big)};
    layout.sentence = {margin, layout.big.bottom() + canvas.unit(0.5), across,
                       static_cast<float>(sentenceLines) * canvas.lineHeight(TextSize::medium)};
    const float keysHeight = canvas.lineHeight(TextSize::small);
    layout.keys = {margin, canvas.height() - canvas.unit(2) - keysHeight, across, keysHeight};

    const float top = layout.sentence.bottom() + canvas.unit(2);
    const float timeLabels = canvas.lineHeight(TextSize::small) + canvas.unit(0.5);
    float bottom = layout.keys.y - canvas.unit(1.5);
    // Where to play is worth more than how the tries scatter: in a low window the neck shrinks before it folds.
    for (const auto& [neck, sweep] : {std::pair(13.0, 22.0), std::pair(8.0, 18.0)}) {
        const float neckHeight = canvas.unit(neck) + canvas.lineHeight(TextSize::small);
        if (layout.neck || bottom - neckHeight - canvas.unit(1) - timeLabels - top < canvas.unit(sweep)) continue;
        layout.neck = Box{margin, bottom - neckHeight, across, neckHeight};
        bottom = layout.neck->y - canvas.unit(1);
    }
    const float scatterWidth = canvas.unit(36);
    const bool scatter = canvas.plainWidth() >= 1200.0f && layout.neck;
    layout.sweep = {margin, top, across - (scatter ? scatterWidth + canvas.unit(4) : 0.0f), bottom - timeLabels - top};
    if (scatter) layout.scatter = Box{layout.sweep.right() + canvas.unit(4), top, scatterWidth, layout.sweep.height};
    return layout;
}

float labelGutter(const Canvas& canvas) { return canvas.textWidth("start fret", TextSize::small) + canvas.unit(2); }

// The word has come, and the trace with its mark has not.
bool isUnmarked(const Practice& practice) {
    return practice.before || (!practice.traces.empty() && practice.traces.back().marks.empty());
}

void drawSweep(Canvas& canvas, const Practice& practice, const Box& whole) {
    const float gutter = labelGutter(canvas);
    const Box box{whole.x + gutter, whole.y, whole.width - gutter, whole.height};
    const SweepScale scale = sweepScale(box, practice.aim, practice.steps, practice.sweepLength);
    canvas.panel(box);

    drawTargets(canvas, practice, scale);
    for (int second = 1; second < scale.length.value; ++second) {
        const float x = scale.x(Seconds(second));
        canvas.line(x, box.bottom() - canvas.unit(1), x, box.bottom(), canvas.colours.quiet);
        canvas.text(x, box.bottom() + canvas.unit(0.5), std::to_string(second) + " s", TextSize::small, Ink::quiet,
                    0.0f, Side::centre);
    }
    canvas.text(box.x, box.bottom() + canvas.unit(0.5), "pick stroke", TextSize::small, Ink::quiet);

    if (practice.traces.empty()) {
        const bool hidden = practice.feedback == Feedback::byEar;
        canvas.text(box.x + box.width / 2.0f, box.y + canvas.unit(2),
                    hidden ? "By ear: nothing is drawn until you ask to see it."
                           : "Each try is drawn here, from its pick stroke on.",
                    TextSize::small, Ink::quiet, box.width - canvas.unit(4), Side::centre);
    }
    const std::size_t first = practice.traces.size() > mostTraces ? practice.traces.size() - mostTraces : 0;
    for (std::size_t i = first; i < practice.traces.size(); ++i) {
        const std::size_t age = practice.traces.size() - (practice.before ? 0U : 1U) - i;
        const float alpha = age == 0 ? 1.0f : std::max(0.12f, 0.5f * px(std::pow(0.8, static_cast<double>(age - 1))));
        drawTrace(canvas, scale, practice.traces[i], age == 0, alpha);
    }
    if (isUnmarked(practice)) drawTrace(canvas, scale, {.points = {}, .marks = practice.last}, true, 1.0f);
}

// The end of a drill: a row for each place, this time and the last; as large as they all fit.
void drawEnds(Canvas& canvas, const std::vector<EndRow>& rows, const Box& box) {
    const float pad = canvas.unit(2);
    const bool before = std::any_of(rows.begin(), rows.end(), [](const EndRow& row) { return !row.before.empty(); });
    const auto widest = [&](std::string EndRow::*column, const char* title, TextSize size) {
        float width = canvas.textWidth(title, size);
        for (const EndRow& row : rows) width = std::max(width, canvas.textWidth(row.*column, size));
        return width + 2.0f * pad;
    };
    const auto widthOf = [&](TextSize size) {
        return widest(&EndRow::place, "", size) + widest(&EndRow::now, "this time", size)
               + (before ? widest(&EndRow::before, "last time", size) : 0.0f);
    };
    const float tall = static_cast<float>(rows.size() + 1) * canvas.lineHeight(TextSize::medium) + 2.0f * pad;
    const bool large = widthOf(TextSize::medium) <= box.width && tall <= box.height;
    const TextSize size = large ? TextSize::medium : TextSize::small;
    // what is left over goes between the columns
    const float spare = std::max(0.0f, box.width - widthOf(size)) / 3.0f, line = canvas.lineHeight(size);
    const float x = box.x + pad, now = x + widest(&EndRow::place, "", size) + spare;
    const float then = now + widest(&EndRow::now, "this time", size) + spare;
    canvas.panel(box);
    float y = box.y + pad;
    canvas.text(now, y, "this time", size, Ink::quiet, (before ? then : box.right()) - now);
    if (before) canvas.text(then, y, "last time", size, Ink::quiet, box.right() - then);
    y += line;
    std::size_t shown = 0;
    for (; shown < rows.size() && y + (shown + 1 < rows.size() ? 2.0f : 1.0f) * line <= box.bottom();
         ++shown, y += line) {
        canvas.text(x, y, rows[shown].place, size, Ink::full, now - x);
        canvas.text(now, y, rows[shown].now, size, Ink::full, (before ? then : box.right()) - now);
        if (before) canvas.text(then, y, rows[shown].before, size, Ink::quiet, box.right() - then);
    }
    if (shown < rows.size())
        canvas.text(x, y, fmt::format("and {} more", rows.size() - shown), size, Ink::quiet, box.width - 2.0f * pad);
}

void drawScatter(Canvas& canvas, const Practice& practice, const Box& box) {
    SweepScale scale = sweepScale(box, practice.aim, practice.steps, practice.sweepLength);
    if (practice.steps.size() > 1) {   // else at the heights of the sweep beside it
        scale.targets = {Cents(0.0)};  // marks of every step, each against its own target
        scale.show(Cents(-120.0), Cents(120.0));
    }
    canvas.panel(box);
    const float top = scale.y(practice.aim), bottom = scale.y(-practice.aim), middle = scale.y(Cents(0.0));
    drawAim(canvas, {box.x, top, box.width, bottom - top});
    canvas.line(box.x, middle, box.right(), middle, canvas.colours.quiet, canvas.unit(0.25));

    // Time to arrive across: the slowest of the marks at least, in half seconds, so that the grouping fills the box.
    double longest = 0.5;
    for (const TryMark& mark : practice.scatter)
        if (mark.arrival) longest = std::max(longest, mark.arrival->value);
    scale.length = Seconds(0.5 * std::ceil(2.2 * longest));
    const float radius = canvas.unit(1);
    const auto draw = [&](const TryMark& mark, bool newest) {
        if (!mark.arrival || !mark.firstStop) return;
        const float y = std::clamp(scale.y(*mark.firstStop), box.y + radius, box.bottom() - radius);
        const float x = std::clamp(scale.x(*mark.arrival), box.x + radius, box.right() - radius);
        canvas.mark(shapeOf(mark), x, y, newest ? 1.4f * radius : radius, newest ? 1.0f : 0.7f);
    };
    const bool unmarked = isUnmarked(practice);
    for (const TryMark& mark : practice.scatter) draw(mark, !unmarked && &mark == &practice.scatter.back());
    if (unmarked)
        for (const TryMark& mark : practice.last) draw(mark, true);
    canvas.text(box.x + canvas.unit(1), box.y + canvas.unit(0.5), "over", TextSize::small, Ink::quiet);
    canvas.text(box.x + canvas.unit(1), box.bottom() - canvas.lineHeight(TextSize::small) - canvas.unit(0.25), "under",
                TextSize::small, Ink::quiet);
    canvas.text(box.x, box.bottom() + canvas.unit(0.5), "time to arrive", TextSize::small, Ink::quiet,
                box.width * 0.75f);
    canvas.text(box.right(), box.bottom() + canvas.unit(0.5),
                scale.length.value == std::floor(scale.length.value)
                    ? std::to_string(std::lround(scale.length.value)) + " s"
                    : std::to_string(std::lround(std::floor(scale.length.value))) + ".5 s",
                TextSize::small, Ink::quiet, 0.0f, Side::right);
}

void drawRest(Canvas& canvas, const Box& big, float left, Seconds restLeft, Seconds restLength) {
    if (restLength.value <= 0.0) return;
    const double share = std::clamp(restLeft.value / restLength.value, 0.0, 1.0);
    left += canvas.unit(4);
    // As tall as the small letters of the word before it, so that it is read with it.
    const Box bar{left, big.y + 0.32f * big.height, big.right() - left, 0.3f * big.height};
    canvas.panel(bar);
    canvas.fill({bar.x, bar.y, bar.width * px(share), bar.height}, canvas.colours.quiet);
}

Intents drawPractice(Canvas& canvas, const Snapshot& snapshot) {
    if (snapshot.stones) return drawStones(canvas, snapshot);
    const Practice& practice = snapshot.practice;
    const bool stopped = stoppedBy(snapshot).has_value();
    // A long one goes on in a second line rather than shrink, and there is always room for it, so that the sweep stays
    // where it is. The rest of the summary and the next step need more.
    const int sentenceLines = !stopped && practice.moment == Moment::endOfDrill ? 3 : sentenceLinesUsual;
    const PracticeLayout layout = practiceLayout(canvas, sentenceLines);
    Intents intents = drawHeader(canvas, snapshot, layout.header);

    const Words big = bigLine(snapshot);
    float left = layout.big.x;
    if (!stopped && practice.moment == Moment::between) {
        drawLastMarks(canvas, practice, layout.big);
    } else {
        for (const TryMark& mark : practice.last) {
            if (stopped || practice.moment != Moment::landed) break;
            const float radius = canvas.lineHeight(TextSize::big) * 0.26f;
            canvas.mark(shapeOf(mark), left + radius, layout.big.y + 0.46f * layout.big.height, radius);
            left += 2.0f * radius + canvas.unit(3);
        }
        left =
            canvas.text(left, layout.big.y, big.headline, TextSize::big, Ink::full, layout.big.right() - left).right();
    }
    canvas.paragraph(layout.sentence.x, layout.sentence.y, big.rest, TextSize::medium, Ink::full, layout.sentence.width,
                     sentenceLines);
    const bool timed = practice.moment == Moment::warmUp || practice.moment == Moment::rest;
    if (!stopped && timed) drawRest(canvas, layout.big, left, practice.restLeft, practice.restLength);

    if (practice.moment == Moment::endOfDrill && !practice.ends.empty()) drawEnds(canvas, practice.ends, layout.sweep);
    else drawSweep(canvas, practice, layout.sweep);
    if (layout.scatter) drawScatter(canvas, practice, *layout.scatter);
    if (layout.neck) drawNeck(canvas, practice.neck, *layout.neck);
    const Intents more = drawKeys(canvas, snapshot, layout.keys);
    intents.insert(intents.end(), more.begin(), more.end());
    return intents;
}

namespace {

// Device, level in a word, and its bar.
void drawInput(Canvas& canvas, const Input& input, const Box& box, bool named) {
    const LevelWord word = levelWord(input);
    const char* said = word == LevelWord::none       ? "silence"
                       : word == LevelWord::tooQuiet ? "too quiet"
                       : word == LevelWord::fine     ? "level fine"
                                                     : "clipping";
    const float barWidth = canvas.unit(14), small = canvas.lineHeight(TextSize::small);
    const float line = box.y + 0.2f * box.height;
    drawLevel(canvas, input,
              {box.right() - barWidth, line + 0.5f * small - canvas.unit(0.75), barWidth, canvas.unit(1)});
    const float right = box.right() - barWidth - canvas.unit(1.5);
    if (input.device.empty()) {
        canvas.text(right, line, "no input", TextSize::small, Ink::full, right - box.x, Side::right);
        return;
    }
    const Box level = canvas.text(right, line, said, TextSize::small, word == LevelWord::fine ? Ink::quiet : Ink::full,
                                  0.0f, Side::right);
    const float room = level.x - canvas.unit(2) - box.x;
    if (named && room > canvas.unit(10))
        canvas.text(level.x - canvas.unit(2), line, input.device, TextSize::small, Ink::quiet, room, Side::right);
}

}  // namespace

Intents drawHeader(Canvas& canvas, const Snapshot& snapshot, const Box& box) {
    // While playing the counter is worth more than the device's name.
    const bool practises = snapshot.screen == Screen::practice;
    const float inputWidth = practises ? canvas.textWidth("level fine", TextSize::small) + canvas.unit(16)
                                       : std::min(26.0f * canvas.lineHeight(TextSize::small), 0.6f * box.width);
    const Box input{box.right() - inputWidth, box.y, inputWidth, canvas.lineHeight(TextSize::medium)};
    const float room = input.x - box.x - canvas.unit(3);
    const Box name =
        canvas.text(box.x, box.y, viewOf(snapshot.screen).title(snapshot), TextSize::medium, Ink::full, room);
    const float next = name.right() + canvas.unit(3), line = canvas.lineHeight(TextSize::medium);
    const std::string progress = !practises        ? ""
                                 : snapshot.stones ? snapshot.stones->progress
                                                   : snapshot.practice.progress;
    if (const auto trouble = knownTrouble(snapshot)) {
        // What it is can be read from where one plays; what to do, where it is done.
        const float mark = canvas.unit(0.5), after = canvas.unit(2), under = box.y + line;
        canvas.fill({next, box.y + 0.1f * line, mark, 0.8f * line}, canvas.colours.ink);
        canvas.text(next + after, box.y, trouble->what, TextSize::medium, Ink::full, box.x + room - next - after);
        const float right =
            progress.empty()
                ? box.right()
                : canvas.text(box.right(), under, progress, TextSize::small, Ink::quiet, 0.0f, Side::right).x - after;
        canvas.text(box.x, under, trouble->remedy, TextSize::small, Ink::full, right - box.x);
    } else if (!progress.empty() && next < box.x + 0.8f * room) {
        canvas.text(next, box.y, progress, TextSize::medium, Ink::quiet, box.x + room - next);
    }
    if (snapshot.screen != Screen::start) drawInput(canvas, snapshot.input, input, !practises);
    return {};
}

float drawLevel(Canvas& canvas, const Input& input, const Box& box) {
    // -60 to 0 dBFS; a notch where it becomes too quiet and one near full scale.
    const float filled = box.width * px(std::clamp((input.level.value + 60.0) / 60.0, 0.0, 1.0));
    canvas.fill(box, canvas.colours.rule, 0.45f);
    canvas.fill({box.x, box.y, filled, box.height}, canvas.colours.quiet);
    for (const double notch : {20.0 / 60.0, 57.0 / 60.0}) {
        const float x = box.x + box.width * px(notch);
        canvas.line(x, box.y - canvas.unit(0.5), x, box.bottom() + canvas.unit(0.5), canvas.colours.ink, 1.5f);
    }
    return filled;
}

namespace {

// Learned keys first: a pedal may send any of the arrows.
Keys practiceKeys(const Snapshot& snapshot) {
    if (snapshot.stones) return stonesKeys(snapshot);
    using Kind = Intent::Kind;
    const KeyMap& keys = snapshot.keys;
    const bool over = snapshot.practice.moment == Moment::endOfDrill;
    const bool guessing = snapshot.practice.guessing;
    const auto guess = [&](int code, Kind kind, const char* does) { return press(code, kind, guessing ? does : ""); };
    return {.all = {guess(keys.under, Kind::guessUnder, "under"), guess(keys.on, Kind::guessOn, "on it"),
                    guess(keys.over, Kind::guessOver, "over"),
                    press(keys.again, Kind::again,
                          over       ? "drill again"
                          : guessing ? ""
                                     : "again"),
                    press(keys.next, Kind::next, snapshot.practice.nextDoes),
                    press(keys.discard, Kind::discard, "drop this try"), press('T', Kind::today, over ? "today" : ""),
                    press(keys.see, Kind::see, over ? "" : "see it now"), press(key::left, Kind::again),
                    press(key::right, Kind::next), press(key::down, Kind::see)}};
}

}  // namespace

extern const ScreenView practiceView{.screen = Screen::practice,
                                     .name = "practice",
                                     .title =
                                         [](const Snapshot& snapshot) {
                                             if (snapshot.stones) return snapshot.stones->line;
                                             return snapshot.practice.drill.empty() ? std::string("Practice")
                                                                                    : snapshot.practice.drill;
                                         },
                                     .draw = drawPractice,
                                     .keys = practiceKeys};

}  // namespace landfall
