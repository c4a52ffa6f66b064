#include "src/review/report_drawings.h"

#include <algorithm>
#include <cmath>
#include <set>

#include <fmt/core.h>

#include "src/practice/words.h"
#include "src/system/printable.h"

namespace landfall {

namespace {

// A drawing with its name for those who hear the page. By --w the page knows how small its words would get.
std::string svg(double width, double height, const std::string& name, const std::string& inside) {
    return fmt::format(
        "<svg viewBox=\"0 0 {0:g} {1:g}\" style=\"--w:{0:g}px\" role=\"img\" aria-label=\"{2}\">{3}</svg>\n", width,
        height, escaped(name), inside);
}

std::string line(double x1, double y1, double x2, double y2, const char* style) {
    return fmt::format("<line x1=\"{:.1f}\" y1=\"{:.1f}\" x2=\"{:.1f}\" y2=\"{:.1f}\" class=\"{}\"/>", x1, y1, x2, y2,
                       style);
}

std::string words(double x, double y, const char* style, std::string_view text) {
    return fmt::format("<text x=\"{:.1f}\" y=\"{:.1f}\" class=\"{}\">{}</text>", x, y, style, escaped(text));
}

// A mark that points where the pitch has to go is read without colour: a wedge up where it lands under, down where over.
std::string wedge(double x, double y, bool up, const char* style) {
    const double way = up ? -1.0 : 1.0;
    return fmt::format("<path d=\"M{:.1f} {:.1f}h14l-7 {:.1f}z\" class=\"{}\"/>", x - 7.0, y, 7.0 * way, style);
}

constexpr double leftOfNeck = 42.0, fretWidth = 46.0, stringGap = 40.0, topOfNeck = 30.0;
constexpr int fretsBeside = 8;  // of two necks beside one another words of more are under five points on paper

std::string cellOf(const MapCell& cell, double x, double y) {
    if (cell.tries < leastForPlace)
        return fmt::format("<rect x=\"{:.1f}\" y=\"{:.1f}\" width=\"34\" height=\"18\" rx=\"2\" class=\"few\"/>",
                           x - 17.0, y - 9.0)
               + words(x, y + 4.0, "count", fmt::format("{} ×", cell.tries));
    const bool sure = std::abs(cell.bias) > cell.doubt;
    const char* style = !sure ? "open" : cell.bias < 0.0 ? "under" : "over";
    std::string drawn =
        fmt::format("<rect x=\"{:.1f}\" y=\"{:.1f}\" width=\"42\" height=\"30\" rx=\"2\" class=\"cell {}\"/>", x - 21.0,
                    y - 15.0, style);
    if (sure) drawn += wedge(x, cell.bias < 0.0 ? y - 15.0 : y + 15.0, cell.bias < 0.0, style);
    return drawn + words(x, y, "bias", signedCents(Cents(cell.bias)))
           + words(x, y + 11.0, "doubt", fmt::format("± {:.0f}", saidDoubt(cell.doubt)));
}

}  // namespace

std::string escaped(std::string_view text) {
    std::string safe;
    for (const char c : printable(text)) {
        if (c == '&') safe += "&amp;";
        else if (c == '<') safe += "&lt;";
        else if (c == '>') safe += "&gt;";
        else if (c == '"') safe += "&quot;";
        else if (c == '\'') safe += "&#39;";
        else safe += c;
    }
    return safe;
}

std::string escapedBriefly(std::string_view text, std::size_t most) {
    const std::string whole = printable(text);
    if (characterCount(whole) <= most) return escaped(whole);
    std::size_t end = 0;
    for (std::size_t characters = 0; end < whole.size(); ++end)
        if ((static_cast<unsigned char>(whole[end]) & 0xC0) != 0x80 && ++characters == most) break;
    return escaped(whole.substr(0, end)) + "…";
}

std::string leaning(double cents) {
    const double whole = std::round(std::abs(cents));
    return whole == 0.0 ? "on it" : fmt::format("{:.0f} {}", whole, cents < 0.0 ? "under" : "over");
}

std::string neckFigure(const StudentReview& review, const MoveKind& kind) {
    std::vector<const MapCell*> cells;
    std::set<int> strings, frets;
    for (const MapCell& cell : review.map.cells)
        if (cell.kind == kind) {
            cells.push_back(&cell);
            strings.insert(cell.place.string);
            frets.insert(cell.place.fret);
        }
    if (cells.empty()) return "";
    // At least six frets and three strings are drawn, so that a place is seen on a neck.
    const int low = std::max(1, std::min(*frets.begin(), *frets.rbegin() - 5)),
              high = std::max(*frets.rbegin(), low + 5);
    const int top = *strings.begin() <= 2 ? 1 : *strings.begin(), bottom = std::max(*strings.rbegin(), top + 2);
    const auto x = [&](int fret) { return leftOfNeck + fretWidth * (fret - low + 0.5); };
    const auto y = [&](int string) { return topOfNeck + stringGap * (string - top); };
    const double right = leftOfNeck + fretWidth * (high - low + 1), height = y(bottom) + 34.0;
    std::string drawn;
    for (int fret = low; fret <= high + 1; ++fret)
        drawn += line(x(fret) - fretWidth / 2.0, y(top), x(fret) - fretWidth / 2.0, y(bottom), "fret");
    for (int fret = low; fret <= high; ++fret) drawn += words(x(fret), height - 4.0, "count", std::to_string(fret));
    std::string told = fmt::format("{} by place:", nameOf(kind));
    for (int string = top; string <= bottom; ++string) {
        drawn += line(leftOfNeck, y(string), right, y(string), "string");
        const bool known = string <= review.guitar.stringCount();
        drawn += words(0.0, y(string) + 4.0, "axis",
                       known ? stringNames(review.guitar, string).brief : std::to_string(string));
    }
    for (const MapCell* cell : cells) {
        drawn += cellOf(*cell, x(cell->place.fret), y(cell->place.string));
        told += cell->tries < leastForPlace
                    ? fmt::format(" string {} fret {} {} tries;", cell->place.string, cell->place.fret, cell->tries)
                    : fmt::format(" string {} fret {} {}, sure to within {:.0f};", cell->place.string, cell->place.fret,
                                  leaning(cell->bias), saidDoubt(cell->doubt));
    }
    return fmt::format("<figure{}><figcaption>{}</figcaption>{}</figure>",
                       high - low < fretsBeside ? "" : " class=\"broad\"", capitalised(nameOf(kind)),
                       svg(right + 8.0, height, told, drawn));
}

std::string curveDrawing(const Example& example) {
    constexpr double width = 220.0, height = 124.0, left = 34.0, top = 8.0, bottom = 104.0;
    const Landing& landing = example.oneTry.landing;
    const double aim = example.oneTry.aim.value;
    const double start = (landing.move.from - landing.move.to).value;
    double reach = std::max(60.0, aim + 20.0);
    if (landing.firstStopError) reach = std::max(reach, std::abs(landing.firstStopError->value) + 15.0);
    reach = std::min(reach, 240.0);
    double seconds = 2.0;
    for (const CurvePoint& point : example.curve) seconds = std::max(seconds, std::min(4.0, point.sinceStroke.value));
    const auto x = [&](double s) { return left + (width - left - 6.0) * s / seconds; };
    const auto y = [&](double cents) { return 0.5 * (top + bottom) - 0.5 * (bottom - top) * cents / reach; };
    std::string drawn =
        fmt::format("<rect x=\"{:.1f}\" y=\"{:.1f}\" width=\"{:.1f}\" height=\"{:.1f}\" class=\"aim\"/>", left, y(aim),
                    width - left - 6.0, y(-aim) - y(aim));
    drawn += line(left, y(0.0), width - 6.0, y(0.0), "target") + words(0.0, y(0.0) + 4.0, "axis", "0 ¢");
    // Beside a far landing the band is narrow: its words keep their distance, one from the other.
    constexpr double lineOfWords = 11.0;
    const double apart = std::max(y(0.0) - y(aim), lineOfWords);
    for (const double side : {1.0, -1.0})
        drawn += words(0.0, y(0.0) - side * apart + 4.0, "axis", signedCents(Cents(side * aim)));
    if (std::abs(start) < reach && start != 0.0) drawn += line(left, y(start), width - 6.0, y(start), "string");
    for (double s = 0.0; s <= seconds; s += 1.0) drawn += words(x(s), height - 6.0, "axis", fmt::format("{:g} s", s));
    std::string path;
    bool down = false;
    double last = -1.0;
    for (const CurvePoint& point : example.curve) {
        const bool seen = point.fromTarget && std::abs(point.fromTarget->value) <= reach
                          && point.sinceStroke.value <= seconds && point.sinceStroke.value >= 0.0;
        if (seen && point.sinceStroke.value - last < 0.012 && down) continue;  // more than paper can show
        if (seen) {
            path += fmt::format("{}{:.1f} {:.1f}", down ? "L" : "M", x(point.sinceStroke.value),
                                y(point.fromTarget->value));
            last = point.sinceStroke.value;
        }
        down = seen;
    }
    if (!path.empty()) drawn += fmt::format("<path d=\"{}\" class=\"curve\"/>", path);
    else drawn += words(x(0.1), y(0.0) - 8.0, "axis", "its pitch was not kept");
    if (landing.landingTime && landing.firstStopError) {
        const double at = (*landing.landingTime - landing.onset).value;
        if (at >= 0.0 && at <= seconds)
            drawn += fmt::format("<circle cx=\"{:.1f}\" cy=\"{:.1f}\" r=\"4\" class=\"stop\"/>", x(at),
                                 y(std::clamp(landing.firstStopError->value, -reach, reach)));
    }
    return svg(width, height, "The pitch of the try over time, in cents from the target", drawn);
}

std::string daysDrawing(const Progress& progress) {
    constexpr double width = 320.0, height = 120.0, left = 34.0, top = 8.0, bottom = 104.0;
    constexpr std::size_t most = 40;
    const std::size_t first = progress.days.size() > most ? progress.days.size() - most : 0;
    const std::span<const DayMean> days = std::span(progress.days).subspan(first);
    double reach = 30.0;
    for (const DayMean& day : days)
        for (const Estimate& each : {day.cold, day.warm})
            if (each.count > 0) reach = std::max(reach, std::min(80.0, std::abs(each.value) + 8.0));
    const auto x = [&](std::size_t i) {
        return left + (width - left - 12.0) * (static_cast<double>(i) + 0.5) / static_cast<double>(days.size());
    };
    const auto y = [&](double cents) {
        return 0.5 * (top + bottom) - 0.5 * (bottom - top) * std::clamp(cents, -reach, reach) / reach;
    };
    std::string drawn = line(left, y(0.0), width - 6.0, y(0.0), "target") + words(0.0, y(0.0) + 4.0, "axis", "0 ¢");
    for (const double side : {20.0, -20.0})
        drawn += line(left, y(side), width - 6.0, y(side), "fret")
                 + words(0.0, y(side) + 4.0, "axis", signedCents(Cents(side)));
    for (std::size_t i = 0; i < days.size(); ++i) {
        const auto mark = [&](const Estimate& mean, double beside, const char* style, double size) {
            if (mean.count == 0) return std::string();
            const double at = x(i) + beside;
            return line(at, y(mean.value - 1.645 * mean.se), at, y(mean.value + 1.645 * mean.se), "whisker")
                   + fmt::format("<circle cx=\"{:.1f}\" cy=\"{:.1f}\" r=\"{:g}\" class=\"{}\"/>", at, y(mean.value),
                                 size, style);
        };
        drawn += mark(days[i].warm, 2.0, "warm", 2.4) + mark(days[i].cold, -2.0, "cold", 2.8);
    }
    if (!days.empty())
        drawn += words(left, height - 2.0, "left", dayText(days.front().at))
                 + words(width - 6.0, height - 2.0, "right", dayText(days.back().at));
    return svg(width, height, "Where each day's first and later tries landed, in cents from the target", drawn);
}

}  // namespace landfall
