#include "src/formats/line_svg.h"

#include <algorithm>
#include <array>
#include <cmath>

#include <fmt/core.h>

#include "src/system/printable.h"

namespace landfall {

namespace {

// The day's colours of the window: blue and vermillion of Okabe and Ito's palette (2008).
constexpr const char *paper = "#f6f3eb", *ground = "#fefcf7", *ink = "#181d20", *quiet = "#484e50", *rule = "#9e9e96",
                     *under = "#0072b2", *over = "#d55e00";

// Sizes in user units, 1:1 to pixels.
constexpr double width = 1200.0, margin = 36.0, gap = 14.0, sweepHeight = 92.0, caption = 24.0, between = 12.0;
constexpr double head = 118.0, lineHeight = 24.0, radius = 7.0;
constexpr std::size_t mostAcross = 8;
constexpr double shortest = 0.6;                        // s across a stone
constexpr double leastReach = 120.0, reachShare = 1.5;  // cents about the target; of the way there

std::string escaped(std::string_view text) {
    std::string safe;
    for (const char c : printable(text))
        if (c == '&') safe += "&amp;";
        else if (c == '<') safe += "&lt;";
        else if (c == '>') safe += "&gt;";
        else if (c == '"') safe += "&quot;";
        else safe += c;
    return safe;
}

std::string text(double x, double y, double size, const char* colour, std::string_view words) {
    return fmt::format("<text x=\"{:.1f}\" y=\"{:.1f}\" font-size=\"{:g}\" fill=\"{}\">{}</text>\n", x, y, size, colour,
                       escaped(words));
}

std::string stroke(double x1, double y1, double x2, double y2, const char* colour, double thick,
                   const char* more = "") {
    return fmt::format("<path d=\"M{:.1f} {:.1f}L{:.1f} {:.1f}\" stroke=\"{}\" stroke-width=\"{:g}\"{}/>\n", x1, y1, x2,
                       y2, colour, thick, more);
}

std::string area(double x, double y, double w, double h, const char* fill, const char* more = "") {
    return fmt::format("<rect x=\"{:.1f}\" y=\"{:.1f}\" width=\"{:.1f}\" height=\"{:.1f}\" fill=\"{}\"{}/>\n", x, y, w,
                       h, fill, more);
}

// The shapes say the same as the colours: a triangle down is under, up is over, a square inside, a cross lost.
std::string markAt(const MoveShown& shown, double x, double y) {
    const double r = radius, h = 0.87 * radius;
    if (shown.lost || !shown.at)
        return stroke(x - r, y - r, x + r, y + r, quiet, 2.5) + stroke(x - r, y + r, x + r, y - r, quiet, 2.5);
    if (shown.inside) return area(x - 0.7 * r, y - 0.7 * r, 1.4 * r, 1.4 * r, ink);
    const bool below = shown.at->value < 0.0;
    const double base = below ? y - h : y + h, tip = below ? y + h : y - h;
    return fmt::format("<path d=\"M{:.1f} {:.1f}L{:.1f} {:.1f}L{:.1f} {:.1f}Z\" fill=\"{}\"/>\n", x - r, base, x + r,
                       base, x, tip, below ? under : over);
}

// One stone: a sweep from its stroke on, height against the target as asinh(cents / aim).
class StonePicture {
public:
    StonePicture(const LineMove& move, const LineMark& marked, const LineTrace& played, Cents aim, double left,
                 double top, double wide)
        : asked(move), mark(marked), trace(played), shown(shownOf(move, marked, aim)), unit(std::max(aim.value, 5.0)),
          own(ownAim(move).value_or(aim).value), x0(left), y0(top), across(wide) {
        const double starts = std::abs(100.0 * (asked.move.struckNote().value - asked.move.to.value));
        reach = std::max(leastReach, reachShare * starts);
        begins = mark.onset.value_or(trace.empty() ? Seconds(0.0) : trace.front().at).value;
        length = trace.empty() ? shortest : std::max(shortest, trace.back().at.value - begins);
    }

    std::string draw(bool failed, bool first) const {
        const double middle = y(0.0), start = 100.0 * (asked.move.struckNote().value - asked.move.to.value);
        std::string all = area(x0, y0, across, sweepHeight, ground);
        if (own > 0.0) {
            all += area(x0, y(own), across, y(-own) - y(own), "url(#aim)");
            for (const double edge : {own, -own}) all += stroke(x0, y(edge), x0 + across, y(edge), quiet, 0.8);
            all += stroke(x0, middle, x0 + across, middle, quiet, 1.2);
        }
        if (std::abs(start) >= 1.0)
            all += stroke(x0, y(start), x0 + 0.3 * across, y(start), quiet, 1.2, " stroke-dasharray=\"5 4\"");
        const std::size_t strings = trace.empty() ? 0 : trace.front().strings.size();
        if (strings == 0) all += sweep([](const LinePoint& point) { return point.fromTarget; }, 0);
        for (std::size_t j = 0; j < strings; ++j)
            all += sweep([j](const LinePoint& point) { return point.strings[j]; }, j);
        const bool placed = shown.at && shown.arrival && *shown.arrival <= Seconds(length) && !shown.lost;
        if (placed) all += markAt(shown, x(begins + shown.arrival->value), y(shown.at->value));
        else if (asked.move.gesture != Gesture::fall || shown.lost) all += markAt(shown, x0 + 0.5 * across, middle);
        const std::string says = shown.figure.empty() ? moveName(asked.move) : shown.figure;
        all += text(x0 + 2.0, y0 + sweepHeight + 0.72 * caption, 16.0, failed ? ink : quiet, says);
        if (failed) all += area(x0, y0 + sweepHeight + caption - 1.0, across, 4.0, ink);
        if (first)
            for (const double side : {x0 - 7.0, x0 + across + 3.0})
                all += area(side, y0, 4.0, sweepHeight + caption, ink);
        return all;
    }

private:
    double x(double at) const { return x0 + across * std::clamp((at - begins) / length, 0.0, 1.0); }
    double y(double cents) const {
        const double share = std::asinh(cents / unit) / std::asinh(reach / unit);
        return y0 + 0.5 * sweepHeight * (1.0 - std::clamp(share, -1.0, 1.0));
    }
    // Several strings as on the screen: the lowest whole, the next in dashes, the third in dots, the others thin.
    template <typename Chosen>
    std::string sweep(const Chosen& centsAt, std::size_t string) const {
        static constexpr std::array<std::string_view, 3> dashes{"", " stroke-dasharray=\"9 4\"",
                                                                " stroke-dasharray=\"2 4\""};
        std::string all, way;
        const auto flush = [&] {
            if (!way.empty())
                all += fmt::format(
                    "<path d=\"{}\" fill=\"none\" stroke=\"{}\" stroke-width=\"{}\" stroke-linejoin=\"round\"{}/>\n",
                    way, ink, string < dashes.size() ? 2 : 1, dashes[string % dashes.size()]);
            way.clear();
        };
        double last = -10.0;
        for (const LinePoint& point : trace) {
            if (point.at.value < begins) continue;
            const auto fromTarget = centsAt(point);
            if (!fromTarget) {
                flush();
                last = -10.0;
                continue;
            }
            if (x(point.at.value) - last < 0.5) continue;
            last = x(point.at.value);
            way += fmt::format("{}{:.1f} {:.1f}", way.empty() ? "M" : "L", last, y(fromTarget->value));
        }
        flush();
        return all;
    }

    const LineMove& asked;
    const LineMark& mark;
    const LineTrace& trace;
    MoveShown shown;
    double unit, own, x0, y0, across;
    double reach = leastReach, begins = 0.0, length = shortest;
};

}  // namespace

std::string lineAsSvg(const Line& line, const LineMarks& marks, std::span<const LineTrace> traces,
                      const PassWords& words, Cents aim) {
    const std::size_t across = std::clamp<std::size_t>(line.moves.size(), 1, mostAcross);
    const std::size_t rows = (line.moves.size() + across - 1) / across;
    const double wide = (width - 2.0 * margin - gap * static_cast<double>(across - 1)) / static_cast<double>(across);
    const double high = sweepHeight + caption + between;
    const double stones = head + high * static_cast<double>(rows);
    const double height = stones + lineHeight * static_cast<double>(words.failed.size()) + margin;
    std::string svg = fmt::format(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {0:g} "
        "{1:g}\" width=\"{0:g}\" height=\"{1:g}\" font-family=\"Inter, 'DejaVu Sans', sans-serif\">\n<title>{2}</title>"
        "\n<desc>{3} {4}.</desc>\n<defs><pattern id=\"aim\" width=\"7\" height=\"7\" patternUnits=\"userSpaceOnUse\" "
        "patternTransform=\"rotate(45)\"><path d=\"M0 0V7\" stroke=\"{5}\" stroke-width=\"1.6\"/></pattern></defs>\n",
        width, height, escaped(line.title), escaped(words.share), escaped(words.headline), rule);
    svg += area(0.0, 0.0, width, height, paper);
    svg += text(margin, 36.0, 17.0, quiet, line.title);
    svg += text(margin, 72.0, 28.0, ink, words.headline);
    svg += text(margin, 100.0, 17.0, quiet, words.share + (words.tempo.empty() ? "" : " " + words.tempo));
    for (std::size_t i = 0; i < line.moves.size(); ++i) {
        const double x = margin + (wide + gap) * static_cast<double>(i % across);
        const std::size_t row = i / across;
        const double y = head + high * static_cast<double>(row);
        const bool failed = std::ranges::find(words.moves, i) != words.moves.end();
        svg += StonePicture(line.moves[i], marks.moves[i], traces[i], aim, x, y, wide).draw(failed, words.first == i);
    }
    for (std::size_t i = 0; i < words.failed.size(); ++i)
        svg += text(margin, stones + lineHeight * static_cast<double>(i + 1), 17.0, ink, words.failed[i]);
    return svg + "</svg>\n";
}

}  // namespace landfall
