#include "src/review/report_page.h"

#include <regex>
#include <set>

#include <fmt/core.h>
#include <pugixml.hpp>

#include <doctest/doctest.h>

#include "src/review/report_drawings.h"
#include "tests/support/command.h"
#include "tests/support/invented_practice.h"

using namespace landfall;

namespace {

const CalendarTime first = calendarNow() - std::chrono::hours(24 * 70);
const std::string hostile = "<script>alert(\"1\")</script>&'";
const std::string endless(200, 'W');

StudentReview reviewOf(const TestFolder& folder, const std::string& name, int sittings, int tries = 48) {
    auto log = Log::open(folder / "log.sqlite", Log::Access::write);
    REQUIRE(log);
    REQUIRE(log->addStudent(name));
    REQUIRE(inventPractice(*log, name, first, sittings, tries, 7));
    const auto students = log->students();
    auto found = review(*log, students->front());
    REQUIRE_MESSAGE(found, found.error().message);
    return *found;
}

// A report of everything that a report can hold, under names that HTML trips over.
StudentReview oddReview(const TestFolder& folder, const std::string& name) {
    StudentReview odd = reviewOf(folder, name, 24);
    for (int i = 0; i < 12; ++i) {
        odd.tasks.push_back({name, 1, 6, 3});
        odd.kinds.push_back({{Gesture::bend, 2 + i}, 9, 3, 1, 4, 1, 12.0, 9.0, 8, 2, {}, -4.0, {}});
    }
    for (Example& each : odd.examples) each.oneTry.landing.sentence = name;
    odd.homework.push_back({name, name, name, first, {}, name});
    for (int i = 0; i < 12; ++i) odd.notes.push_back({"u", i % 3, i % 2, first, name});
    odd.next = name;
    return odd;
}

pugi::xml_document parsed(const std::string& page) {
    pugi::xml_document document;
    const auto result = document.load_string(page.c_str());
    REQUIRE_MESSAGE(result, result.description());
    return document;
}

// W3C WCAG 2.1, "relative luminance" and "contrast ratio".
double luminance(unsigned colour) {
    const auto part = [&](int shift) {
        const double c = ((colour >> shift) & 0xFF) / 255.0;
        return c <= 0.03928 ? c / 12.92 : std::pow((c + 0.055) / 1.055, 2.4);
    };
    return 0.2126 * part(16) + 0.7152 * part(8) + 0.0722 * part(0);
}
double contrast(unsigned a, unsigned b) {
    return (std::max(luminance(a), luminance(b)) + 0.05) / (std::min(luminance(a), luminance(b)) + 0.05);
}

// A page in Chromium without a window; what it says on the console is printed with the rest.
CommandOutcome chromium(const TestFolder& folder, const std::string& options) {
    return runCommand(
        fmt::format("HOME='{0}' timeout 100 '{1}' --headless --no-sandbox --disable-gpu "
                    "--user-data-dir='{0}/browser' --enable-logging=stderr {2} 'file://{0}/report.html' 2>&1",
                    folder.path.string(), LANDFALL_CHROMIUM, options));
}

}  // namespace

TEST_CASE("a report is one well-formed page without script, link or anything to fetch, whatever the names are") {
    for (const std::string& name : {std::string("Ines"), hostile, endless, std::string("\x1b[2J\xff \r\n")}) {
        const TestFolder folder;
        const std::string page = reportPage(oddReview(folder, name), calendarNow());
        const auto document = parsed(page);
        CHECK(document.select_nodes("//script | //link | //img | //iframe | //object | //a | //@onload").empty());
        for (const char* fetches : {"url(", "@import", "src=", "href="}) CHECK(page.find(fetches) == std::string::npos);
        std::size_t at = 0;  // the one address is the name space's
        while ((at = page.find("http", at)) != std::string::npos) {
            const std::string from = page.substr(at, 28);
            CHECK((from == "http://www.w3.org/1999/xhtml" || from.starts_with("http-equiv")));
            ++at;
        }
        CHECK(std::string(document.select_node("//h1/bdi").node().text().get()) == printable(name));
        if (name == hostile) CHECK(page.find("<script") == std::string::npos);
    }
}

TEST_CASE("a report's headings, tables and drawings say what they are to those who hear it") {
    const TestFolder folder;
    const auto document = parsed(reportPage(reviewOf(folder, "Ines", 24), calendarNow()));
    CHECK(std::string(document.child("html").attribute("lang").value()) == "en");
    CHECK(document.select_nodes("//h1").size() == 1);
    std::vector<std::string> titles;
    for (const auto& each : document.select_nodes("//h2")) titles.emplace_back(each.node().text().get());
    CHECK(titles
          == std::vector<std::string>{"What was practised", "How it lands", "Where on the neck", "Three tries",
                                      "What changed", "The hand", "Your line"});
    CHECK(document.select_nodes("//h3 | //h4").empty());
    for (const auto& each : document.select_nodes("//svg")) {
        CHECK(std::string(each.node().attribute("role").value()) == "img");
        CHECK(std::string(each.node().attribute("aria-label").value()).size() > 10);
        const std::string box = each.node().attribute("viewBox").value();  // "0 0 width height"
        CHECK(std::string(each.node().attribute("style").value())
              == "--w:" + box.substr(4, box.find(' ', 4) - 4) + "px");
    }
    CHECK(document.select_nodes("//svg").size() == 2 + 3 + 2);
    for (const auto& each : document.select_nodes("//th"))
        CHECK(!std::string(each.node().attribute("scope").value()).empty());
}

TEST_CASE("a neck of more than eight frets has the width of a report's page, others stand beside one another") {
    for (const int frets : {1, 8, 9, 20}) {
        StudentReview review;
        for (int fret = 2; fret < 2 + frets; ++fret) {
            review.map.cells.emplace_back();
            review.map.cells.back().kind = {Gesture::bend, 2};
            review.map.cells.back().place = {2, fret};
        }
        const std::string figure = neckFigure(review, {Gesture::bend, 2});
        CHECK((figure.find("<figure class=\"broad\">") == 0) == (frets > 8));
    }
}

TEST_CASE("a report's words stand out from its paper as WCAG asks, small ones more") {
    const TestFolder folder;
    const std::string page = reportPage(reviewOf(folder, "Ines", 3), calendarNow());
    for (const char* used : {"background:#fbfaf4", "color:#22201b", "color:#504c42", "fill:#504c42",
                             "rect.under{fill:#dcecf6", "rect.over{fill:#fbe6cf"})
        CHECK_MESSAGE(page.find(used) != std::string::npos, used);
    for (const unsigned paper : {0xfbfaf4u, 0xdcecf6u, 0xfbe6cfu, 0xffffffu})
        for (const unsigned ink : {0x22201bu, 0x504c42u})
            CHECK(contrast(ink, paper) >= 7.0 - (ink == 0x504c42u ? 0.4 : 0.0));
    for (const unsigned mark : {0x0072b2u, 0xb35900u}) CHECK(contrast(mark, 0xfbfaf4u) >= 3.0);
    CHECK(contrast(0x000000u, 0xffffffu) == doctest::Approx(21.0));
}

TEST_CASE(
    "beside a curve the words of the aim and of the target never lie on one another, however far the try landed") {
    for (const double aim : {3.0, 10.0, 25.0, 50.0})
        for (const double error : {0.0, -40.0, 152.0, 400.0}) {
            Example example;
            example.oneTry.aim = Cents(aim);
            example.oneTry.landing.firstStopError = Cents(error);
            const std::string drawn = curveDrawing(example);
            static const std::regex word("<text x=\"0.0\" y=\"([0-9.]+)\"");
            std::set<double> heights;
            for (auto at = std::sregex_iterator(drawn.begin(), drawn.end(), word); at != std::sregex_iterator(); ++at)
                heights.insert(std::stod((*at)[1]));
            REQUIRE(heights.size() == 3);
            double last = -100.0;
            for (const double height : heights) {
                CHECK(height - last >= 10.0);  // the height of these words in the drawing's units
                last = height;
            }
            CHECK(*heights.rbegin() < 112.0);  // above the words of the time
        }
}

TEST_CASE("a report of a few tries makes no claim: no trend, no verdict on a place, no interval of two days") {
    const TestFolder folder;
    const std::string page = reportPage(reviewOf(folder, "Ines", 2, 12), calendarNow());
    CHECK(page.find("Too early for a trend.") != std::string::npos);
    CHECK(page.find("2 days: not known yet") != std::string::npos);
    CHECK(page.find("No place has 20 measured tries yet") != std::string::npos);
    CHECK(page.find("class=\"bias\"") == std::string::npos);
    for (const char* never : {"mproved", "mastered", "optimal", "proven", "tired"})
        CHECK(page.find(never) == std::string::npos);
}

TEST_CASE("a report of a student who has not played says so") {
    const TestFolder folder;
    const std::string page = reportPage(reviewOf(folder, "Noor", 0), calendarNow());
    parsed(page);
    CHECK(page.find("No sitting yet.") != std::string::npos);
    CHECK(page.find("begin with a first drill") != std::string::npos);
}

TEST_CASE("a report has the notes that were written, the latest of many, and none of before its time") {
    const TestFolder folder;
    CHECK(reportPage(reviewOf(folder, "Ines", 3), calendarNow()).find("Notes") == std::string::npos);
    auto log = Log::open(folder / "log.sqlite", Log::Access::write);
    const Student ines = log->students()->front();
    for (int i = 1; i <= 6; ++i)
        REQUIRE(keepNote(*log, ines,
                         {.sitting = 1,
                          .number = 7,
                          .written = first + std::chrono::hours(24 * i),
                          .text = fmt::format("note {}", i)}));
    const auto all = review(*log, ines), later = review(*log, ines, first + std::chrono::hours(24 * 5));
    const std::string page = reportPage(*all, calendarNow());
    CHECK(page.find("<td>try 1.7</td><td><bdi>note 6</bdi></td>") != std::string::npos);
    CHECK(page.find("note 3") != std::string::npos);
    CHECK(page.find("note 2") == std::string::npos);
    CHECK(page.find("2 more notes") != std::string::npos);
    CHECK(later->notes.size() == 2);
    CHECK(reportAsJson(*later).find("\"text\": \"note 5\"") != std::string::npos);
}

TEST_CASE("CSV and JSON of a report hold the same values, and every figure of the page's tables") {
    const TestFolder folder;
    const StudentReview odd = oddReview(folder, hostile);
    writeText(folder / "r.json", reportAsJson(odd));
    writeText(folder / "r.csv", reportAsCsv(odd));
    writeText(folder / "read.py",
              "import csv, json, sys\n"
              "d = json.load(open(sys.argv[1], encoding='utf-8'))\n"
              "rows = list(csv.DictReader(open(sys.argv[2], newline='', encoding='utf-8'), strict=True))\n"
              "seen = 0\n"
              "for r in rows:\n"
              "    table = d[r['table']]; row = table if isinstance(table, dict) else table[int(r['row']) - 1]\n"
              "    value = row[r['column']]; seen += 1\n"
              "    if value is None: assert r['value'] == '', r\n"
              "    elif isinstance(value, bool): assert r['value'] == str(value).lower(), r\n"
              "    elif isinstance(value, str): assert r['value'] == value, r\n"
              "    else: assert float(r['value']) == value, r\n"
              "assert seen == sum(len(row) for t in d.values() for row in (t if isinstance(t, list) else [t]))\n"
              "print(','.join(d), d['report']['student'], len(d['practised']), len(d['curves']) > 300)\n");
    const auto ran =
        runCommand(fmt::format("cd '{}' && PYTHONUTF8=1 python3 read.py r.json r.csv 2>&1", folder.path.string()));
    CHECK(ran.output
          == "report,homework,practised,kinds,places,progress,days,examples,curves,notes,care " + hostile
                 + " 14 True\n");
}

TEST_CASE("doc/report.md names every table and column of a report's figures") {
    const TestFolder folder;
    const std::string schema = readText(std::filesystem::path(LANDFALL_SOURCE_DIR) / "doc/report.md");
    const std::string csv = reportAsCsv(reviewOf(folder, "Ines", 12));
    std::set<std::string> names;
    for (std::size_t begin = csv.find('\n') + 1; begin < csv.size(); begin = csv.find('\n', begin) + 1) {
        const std::string row = csv.substr(begin, csv.find('\n', begin) - begin);
        const std::size_t one = row.find(','), two = row.find(',', one + 1), three = row.find(',', two + 1);
        names.insert(row.substr(0, one));
        names.insert(row.substr(two + 1, three - two - 1));
    }
    CHECK(names.size() > 40);
    for (const std::string& name : names) CHECK_MESSAGE(schema.find("`" + name + "`") != std::string::npos, name);
}

TEST_CASE("Chromium shows a report without a word on its console, keeps its names text, and prints it on two pages") {
    if (std::string(LANDFALL_CHROMIUM).empty()) {
        MESSAGE("skipped: chromium is not installed");
        return;
    }
    for (const std::string& name : {hostile, endless}) {
        const TestFolder folder;
        writeText(folder / "report.html", reportPage(oddReview(folder, name), calendarNow()));
        const auto shown = chromium(folder, "--dump-dom");
        CHECK(shown.status == 0);
        CHECK_MESSAGE(shown.output.find("CONSOLE") == std::string::npos, shown.output.substr(0, 2000));
        CHECK(shown.output.find("<script") == std::string::npos);
        CHECK(shown.output.find("<h2>Your line</h2>") != std::string::npos);
        for (const char* paper : {"A4", "Letter"}) {
            std::string page = readText(folder / "report.html");
            page.replace(page.find("@page{"), 6, fmt::format("@page{{size:{};", paper));
            TestFolder printed;
            writeText(printed / "report.html", page);
            const auto ran = chromium(
                printed, fmt::format("--no-pdf-header-footer --print-to-pdf='{}'", (printed / "r.pdf").string()));
            CHECK(ran.status == 0);
            const std::string pdf = readText(printed / "r.pdf");
            static const std::regex sheet("/Type /Page\\b");
            const auto pages = std::distance(std::sregex_iterator(pdf.begin(), pdf.end(), sheet), {});
            CAPTURE(std::string(paper));
            CHECK(pages >= 1);
            CHECK(pages <= 2);
        }
    }
}
