// The command line of the program: every command with its options. The parser is the slowest header to compile, so only
// this file includes it.
#include <algorithm>
#include <cstdio>
#include <exception>
#include <memory>
#include <string>
#include <string_view>

#include <CLI/CLI.hpp>
#include <fmt/core.h>

#include "src/app/commands.h"
#include "src/app/plain_help.h"
#include "src/app/sitting.h"
#include "src/audio/audio_process.h"
#include "src/formats/drill_file.h"
#include "src/music/gesture.h"
#include "src/system/printable.h"

namespace landfall {

namespace {

std::string isStream(const std::string& name) {
    return name == "settled" || name == "provisional"
               ? ""
               : fmt::format("'{}' is not a stream: use settled or provisional", name);
}

// Below a command's options: how it is used.
void addExamples(CLI::App* command, const std::string& lines) { command->footer("Examples:\n" + lines); }

std::string drillNames() {
    std::string names;
    for (const Drill& drill : builtInDrills()) names += fmt::format("{}'{}'", names.empty() ? "" : ", ", drill.name);
    return names;
}
std::string drillHelp() { return "a drill: " + drillNames() + "; one of your own by name, or a drill file (.toml)"; }
constexpr const char* phraseHelp = "a phrase: a title (landfall phrases lists them), or its file (.musicxml, .toml)";
constexpr const char* targetHelp =
    "what counts as in tune: concert (equal temperament), 'start note' (the note you started from, plus the interval) "
    "or "
    "'own guitar' (the fret as this guitar sounds it); of several strings just, too (pure against the lower one)";
constexpr const char* tuningHelp =
    "standard, 'half step down', 'whole step down', 'drop D', 'seven strings', or the notes from the lowest string, "
    "such "
    "as 'D2 A2 D3 G3 A3 D4'";
constexpr const char* rateHelp = "sample rate, 16000 to 192000 (default: the device's own)";

// What the window and `practise` are both told of the input and of whose tries these are.
void addPlaying(CLI::App& command, SourceWish& source, SittingWish& sitting, bool& keepTakes) {
    command
        .add_option("--device", source.device,
                    "input device, or part of its name; landfall devices lists them (default: as in the settings)")
        ->type_name("NAME");
    command.add_option("--channel", source.channel, "input channel, from 1 (default: as in the settings)")
        ->type_name("NUMBER")
        ->check(between(1, 64));
    command.add_option("--rate", source.rate, rateHelp)->type_name("HZ")->check(between(16000, 192000));
    command.add_option("--frames", source.frames, "samples a block, 64 to 512 (default: as in the settings)")
        ->type_name("NUMBER")
        ->check(between(64, 512));
    command.add_option("--seed", source.seed, "which tries the simulated student plays, any whole number")
        ->type_name("NUMBER")
        ->capture_default_str();
    command.add_option("--student", sitting.student, "whose tries these are")->type_name("NAME");
    command
        .add_option("--log", sitting.log,
                    "the log to write to (default: as in the settings; of the simulated student: none)")
        ->type_name("FILE");
    command.add_flag("--keep-takes", keepTakes, "keep the sound of every try as a FLAC file");
}

// Each registers a command and its options, and sets `status` when it runs.
void addWindow(CLI::App& app, int& status) {
    auto options = std::make_shared<WindowOptions>();
    app.add_option("FILE", options->file, "a lesson to take in");
    app.add_option("--drill", options->drill, "the first drill: " + drillNames() + "; or a drill file")
        ->type_name("DRILL")
        ->capture_default_str();
    app.add_option("--input", options->source.input,
                   "device, simulated (a simulated student plays) or a sound file (default: as in the settings)")
        ->type_name("INPUT");
    addPlaying(app, options->source, options->sitting, options->keepTakes);
    app.add_option("--pace", options->source.pace, "how fast the simulated student plays: 0.1 to 20 times real time")
        ->type_name("TIMES")
        ->check(between(0.1, 20.0))
        ->capture_default_str();
    app.add_option("--size", options->size, "of the window in pixels, 1024x600 or more; else as you left it")
        ->type_name("WIDTHxHEIGHT")
        ->check(isWindowSize, "");
    app.add_flag("--heavy", options->heavy, "ask for two-step bends, and for full steps that take over 20 N, too");
    // For tests and reports of faults; an empty group keeps them out of the help.
    app.add_option("--words", options->words, "a file for the words of every frame")->group("");
    app.add_option("--stall", options->stall, "every 5 s the window's thread stands still so long")
        ->check(between(0.0, 60.0))
        ->group("");
    addExamples(&app,
                "  landfall\n  landfall --drill 'Whole up' --device 'USB'\n  landfall --input simulated --pace 3\n"
                "  landfall practise --help");
    app.callback([&app, options, &status] {
        if (app.get_subcommands().empty()) status = openWindow(*options);
    });
}

void addPractiseCommand(CLI::App& app, int& status) {
    auto options = std::make_shared<PractiseOptions>();
    CLI::App* command =
        app.add_subcommand("practise", "Play a drill, every try marked and kept, or a phrase, marked pass by pass");
    CLI::Option* drill = command->add_option("DRILL", options->drill, drillHelp())->capture_default_str();
    CLI::Option* phrase =
        command->add_option("--phrase", options->phrase, phraseHelp)->type_name("PHRASE")->excludes(drill);
    command
        ->add_option("--tempo", options->tempo,
                     "for --phrase: a tempo to aim at, 20 to 400 quarters a minute (default: your own)")
        ->type_name("TEMPO")
        ->check(between(20.0, 400.0))
        ->needs(phrase);
    command->add_option("--passes", options->mostPasses, "for --phrase: end after so many passes")
        ->type_name("NUMBER")
        ->check(between(1, 1000000))
        ->needs(phrase);
    command->add_flag("--homework", options->homework, "what comes next of a teacher's lesson, by its aim and tempo")
        ->excludes(drill)
        ->excludes(phrase);
    command
        ->add_option("--input", options->source.input,
                     "device, simulated (a simulated student plays) or a sound file (.wav, .flac, .aiff, .ogg)")
        ->type_name("INPUT")
        ->capture_default_str();
    addPlaying(*command, options->source, options->sitting, options->keepTakes);
    command
        ->add_option("--aim", options->sitting.aim,
                     "how far from the target still counts as good, 3 to 100 cents (100 cents are one fret)")
        ->type_name("CENTS")
        ->check(between(3.0, 100.0));
    command
        ->add_option_function<std::string>(
            "--target", [options](const std::string& name) { options->sitting.target = *targetNamed(name); },
            targetHelp)
        ->type_name("TARGET")
        ->check(isTarget);
    command->add_option("--tries", options->mostTries, "end after so many tries")
        ->type_name("NUMBER")
        ->check(between(1, 1000000));
    command->add_flag("--skip-check", options->skipCheck, "leave out the string check");
    command->add_flag("--heavy", options->heavy,
                      "ask for two-step bends, and for full steps on wound strings or over 20 N, too");
    command->add_flag("--no-tone", options->noTone, "do not play the target note");
    command->add_flag("--unpaced", options->unpaced,
                      "let the simulated student play faster than real time, without rests");
    for (const char* ofDrills : {"--target", "--tries", "--keep-takes", "--no-tone"})
        phrase->excludes(command->get_option(ofDrills));
    addExamples(command,
                "  landfall practise 'Whole up' --aim 15\n  landfall practise my_drill.toml --input take.wav\n"
                "  landfall practise --phrase 'Two stairs down'");
    command->callback([options, &status] { status = runPractise(*options); });
}

void addDemoCommand(CLI::App& app, int& status) {
    auto options = std::make_shared<DemoOptions>();
    CLI::App* command = app.add_subcommand("demo", "A simulated student plays three drills; needs no sound card");
    command->add_option("--seed", options->seed, "which tries the student plays, any whole number")
        ->type_name("NUMBER")
        ->capture_default_str();
    command->add_option("--tries", options->tries, "tries in each drill, 1 to 24")
        ->type_name("NUMBER")
        ->check(between(1, 24))
        ->capture_default_str();
    command->add_option("--student", options->sitting.student, "whose name the tries are kept under in that log")
        ->type_name("NAME")
        ->capture_default_str();
    command->add_option("--log", options->sitting.log, "keep the tries in this log (default: they are not kept)")
        ->type_name("FILE");
    addExamples(command, "  landfall demo\n  landfall demo --tries 3 --seed 7 --log /tmp/try.sqlite");
    command->callback([options, &status] { status = runDemo(*options); });
}

// The guitar that a drill's places are laid out on.
void addGuitar(CLI::App* command, std::string& tuning, int& capo, int& frets, const std::string& what) {
    command->add_option("--tuning", tuning, what + tuningHelp)->type_name("TUNING")->capture_default_str();
    command->add_option("--capo", capo, what + "fret of the capo, 0 for none")
        ->type_name("FRET")
        ->capture_default_str();
    command->add_option("--frets", frets, what + "highest fret of the neck")->type_name("FRET")->capture_default_str();
}

void addDrillsCommand(CLI::App& app, int& status) {
    auto options = std::make_shared<DrillsOptions>();
    CLI::App* command = app.add_subcommand("drills", "List the drills, or explain one");
    CLI::Option* name = command->add_option("DRILL", options->drill, drillHelp());
    CLI::Option* json = command->add_flag("--json", options->json, "print JSON");
    command->add_flag("--file", options->file, "print the drill's file, to start one of your own from")
        ->needs(name)
        ->excludes(json);
    addGuitar(command, options->tuning, options->capo, options->frets, "");
    addExamples(command,
                "  landfall drills\n  landfall drills 'Half up' --tuning 'drop D'\n"
                "  landfall drills 'Half up' --file > my_drill.toml");
    command->callback([options, &status] { status = runDrills(*options); });
}

void addPhrasesCommand(CLI::App& app, int& status) {
    auto options = std::make_shared<PhrasesOptions>();
    CLI::App* command = app.add_subcommand("phrases", "List the phrases, print one move by move, or write it as MIDI");
    CLI::Option* name = command->add_option("PHRASE", options->phrase, phraseHelp);
    CLI::Option* json = command->add_flag("--json", options->json, "print JSON");
    CLI::Option* file =
        command->add_flag("--file", options->file, "print the file of a built-in phrase")->needs(name)->excludes(json);
    CLI::Option* midi = command->add_option("--midi", options->midi, "a Standard MIDI File to write")
                            ->type_name("FILE")
                            ->needs(name)
                            ->excludes(json)
                            ->excludes(file);
    command
        ->add_option("--tempo", options->tempo, "of the MIDI file, 10 to 400 quarters a minute (default: the score's)")
        ->type_name("TEMPO")
        ->needs(midi)
        ->check(between(10.0, 400.0));
    addExamples(command,
                "  landfall phrases 'Lantern Street'\n"
                "  landfall phrases 'Lantern Street' --midi lantern.mid --tempo 60");
    command->callback([options, &status] { status = runPhrases(*options); });
}

void addDevicesCommand(CLI::App& app, int& status) {
    CLI::App* command = app.add_subcommand("devices", "List the sound devices there are");
    auto json = std::make_shared<bool>(false);
    command->add_flag("--json", *json, "print JSON");
    addExamples(command, "  landfall devices");
    command->callback([json, &status] { status = runDevices(*json); });
}

void addAudioProcessCommand(CLI::App& app, int& status) {
    CLI::App* command =
        app.add_subcommand("audio-process", "The process that holds the sound device; started by the program itself");
    command->group("");
    command->callback([&status] { status = runAudioProcess(); });
}

// What is done with the log's file as a whole.
void addLogCare(CLI::App* log, const std::shared_ptr<LogOptions>& options, int& status) {
    log->require_subcommand(0, 1);
    CLI::App* where = log->add_subcommand("where", "Say where the log is");
    where->callback([options, &status] { status = runLogWhere(options->log); });
    CLI::App* check = log->add_subcommand("check", "Read everything in the log, and mend what can be mended");
    check->callback([options, &status] { status = runLogCheck(options->log); });
    CLI::App* backup = log->add_subcommand("backup", "Copy the log, also while it is being written");
    auto to = std::make_shared<std::string>();
    backup->add_option("FILE", *to, "the copy, which must not be there yet")->required();
    backup->callback([options, to, &status] { status = runLogBackup(options->log, *to); });
    for (CLI::App* each : {where, check, backup}) each->fallthrough();
}

void addLogCommand(CLI::App& app, int& status) {
    auto options = std::make_shared<LogOptions>();
    CLI::App* command = app.add_subcommand("log", "List the sittings in the log, or print one");
    CLI::Option* sitting =
        command->add_option("SITTING", options->sitting, "a sitting's number as listed, or last for the last one");
    command->add_option("--log", options->log, "the log to read (default: as in the settings)")->type_name("FILE");
    command->add_option("--student", options->student, "only this student's sittings")
        ->type_name("NAME")
        ->excludes(sitting);
    CLI::Option* csv = command->add_flag("--csv", options->csv, "print CSV (RFC 4180)");
    CLI::Option* json = command->add_flag("--json", options->json, "print JSON")->excludes(csv);
    CLI::Option* strikeOption =
        command->add_option("--strike", options->strike, "drop a try, such as 3.12: it stays in the log, not counted")
            ->type_name("TRY");
    CLI::Option* restoreOption = command->add_option("--restore", options->restore, "count a dropped try again")
                                     ->type_name("TRY")
                                     ->excludes(strikeOption);
    CLI::Option* noteOption = command
                                  ->add_option("--note", options->note,
                                               "keep a note on a try (3.12), a sitting (3), or a lesson (the student)")
                                  ->type_name("ON WORDS")
                                  ->expected(2)
                                  ->excludes(strikeOption)
                                  ->excludes(restoreOption);
    for (CLI::Option* change : {strikeOption, restoreOption, noteOption})
        change->excludes(sitting)->excludes(csv)->excludes(json);
    addExamples(command,
                "  landfall log\n  landfall log last\n  landfall log 3 --csv > tries.csv\n"
                "  landfall log --strike 3.12\n  landfall log --note 3.12 \"stiff wrist?\"\n"
                "  landfall log backup /media/stick/log.sqlite");
    addLogCare(command, options, status);
    command->callback([command, options, &status] {
        if (command->get_subcommands().empty()) status = runLog(*options);
    });
}

void addStudentsCommand(CLI::App& app, int& status) {
    auto options = std::make_shared<StudentsOptions>();
    CLI::App* command = app.add_subcommand("students", "List the students in the log, choose one, or change the list");
    command->require_subcommand(0, 1);
    command->add_option("--log", options->log, "the log (default: as in the settings)")->type_name("FILE");
    CLI::Option* json = command->add_flag("--json", options->json, "print JSON");
    constexpr const char* whoHelp = "a student's name, or the beginning of a UUID where two have it";
    using Do = StudentsOptions::Do;
    struct Verb {
        Do what;
        const char *name, *says, *who, *second;
    };
    const Verb verbs[] = {
        {Do::use, "use", "Choose the student who plays next", whoHelp, nullptr},
        {Do::add, "new", "Add a student", "the name", nullptr},
        {Do::rename, "rename", "Give a student another name", whoHelp, "the new name"},
        {Do::merge, "merge", "Join two students who are the same person", whoHelp, "who stays"},
        {Do::archive, "archive", "Take a student off the list; everything played stays", whoHelp, nullptr},
        {Do::back, "back", "Put an archived student back on the list", whoHelp, nullptr},
        {Do::remove, "delete", "Delete a student and everything they played", whoHelp, nullptr}};
    for (const Verb& verb : verbs) {
        CLI::App* each = command->add_subcommand(verb.name, verb.says);
        each->add_option(verb.second ? "WHO" : "NAME", options->who, verb.who)->required();
        if (verb.second)
            each->add_option(verb.what == Do::merge ? "INTO" : "NEW", options->second, verb.second)->required();
        if (verb.what == Do::merge || verb.what == Do::remove)
            each->add_flag("--sure", options->sure, "do it without asking; it cannot be undone");
        each->fallthrough()->callback([options, what = verb.what] { options->what = what; });
        each->excludes(json);
    }
    addExamples(command,
                "  landfall students\n  landfall students new Tobi\n  landfall students use Tobi\n"
                "  landfall students merge Toby Tobi\n  landfall students delete Tobi");
    command->final_callback([options, &status] { status = runStudents(*options); });
}

void addHowItIs(CLI::App* command, GuitarsOptions& options) {
    command->add_option("--tuning", options.tuning, tuningHelp)->type_name("TUNING");
    command->add_option("--capo", options.capo, "fret of the capo, 0 for none")->type_name("FRET");
    command->add_option("--frets", options.frets, "highest fret of the neck")->type_name("FRET");
    command->add_option("--gauges", options.gauges, "the strings' gauges, the thinnest first")
        ->type_name("INCH")
        ->expected(1, 9);
    command->add_option("--third", options.third, "the third string: plain or wound")
        ->check(CLI::IsMember({"plain", "wound"}));
    command->add_option("--scale", options.scale, "from nut to saddle")->type_name("MM");
    command->add_option("--radius", options.radius, "of the fretboard; 0: not told")->type_name("MM");
    command->add_option("--action", options.action, "the lowest string over the twelfth fret; 0: not told")
        ->type_name("MM");
    command->add_option("--a4", options.a4, "the reference pitch")->type_name("HZ");
    command->add_option("--plays", options.plays, "right or left")->check(CLI::IsMember({"right", "left"}));
}

void addGuitarsCommand(CLI::App& app, int& status) {
    auto options = std::make_shared<GuitarsOptions>();
    CLI::App* command = app.add_subcommand("guitars", "List the guitars, take one up, or change the list");
    command->require_subcommand(0, 1);
    command->add_option("--log", options->log, "the log (default: as in the settings)")->type_name("FILE");
    CLI::Option* json = command->add_flag("--json", options->json, "print JSON");
    using Do = GuitarsOptions::Do;
    struct Verb {
        Do what;
        const char *name, *says;
    };
    const Verb verbs[] = {{Do::use, "use", "Play this guitar from now on, as it was last"},
                          {Do::add, "new", "Add a guitar: as the one in hand but for what is said"},
                          {Do::change, "change", "Say how a guitar is now; what was played keeps how it was"},
                          {Do::rename, "rename", "Give a guitar another name"},
                          {Do::merge, "merge", "Join two names of one guitar"},
                          {Do::archive, "archive", "List a guitar last; what was played on it stays"},
                          {Do::back, "back", "List it among the others again"},
                          {Do::remove, "delete", "Delete a guitar that was never played"}};
    for (const Verb& verb : verbs) {
        CLI::App* each = command->add_subcommand(verb.name, verb.says);
        each->add_option("NAME", options->name, "a guitar's name")->required();
        if (verb.what == Do::rename) each->add_option("NEW", options->to, "the new name")->required();
        if (verb.what == Do::merge) {
            each->add_option("INTO", options->to, "the name that stays")->required();
            each->add_flag("--sure", options->sure, "do it without asking; it cannot be undone");
        }
        if (verb.what == Do::add || verb.what == Do::change) addHowItIs(each, *options);
        each->fallthrough()->callback([options, what = verb.what] { options->what = what; });
        each->excludes(json);
    }
    addExamples(command,
                "  landfall guitars\n  landfall guitars rename standard 'the red one'\n"
                "  landfall guitars use 'the red one'\n  landfall guitars merge 'red one' 'the red one'\n"
                "  landfall guitars new 'the long one' --scale 673 --gauges 0.011 0.014 0.018 0.028 0.038 0.049\n"
                "  landfall guitars change 'the red one' --action 1.8 --third wound");
    command->final_callback([options, &status] { status = runGuitars(*options); });
}

void addExchangeCommands(CLI::App& app, int& status) {
    auto options = std::make_shared<ExportOptions>();
    CLI::App* command = app.add_subcommand("export", "Write a student's practice as one file, to send to somebody");
    command->add_option("STUDENT", options->student, "a student's name, or the beginning of a UUID where two have it")
        ->required();
    command->add_option("--since", options->since, "only what was played from this day on, such as 2027-03-01")
        ->type_name("DATE")
        ->check(isDay, "");
    command->add_flag("--takes", options->takes, "the kept sounds, too");
    command->add_option("-o,--output", options->output, "the file to write, which must not be there yet")
        ->type_name("FILE")
        ->required();
    command->add_option("--log", options->log, "the log to read (default: as in the settings)")->type_name("FILE");
    addExamples(command,
                "  landfall export Ines -o ines.landfall\n"
                "  landfall export Ines --since 2027-03-01 --takes -o march.landfall");
    command->callback([options, &status] { status = runExport(*options); });

    auto file = std::make_shared<std::string>(), log = std::make_shared<std::string>();
    CLI::App* import =
        app.add_subcommand("import", "Take in a file that landfall export wrote; doing so twice does no harm");
    import->add_option("FILE", *file, "the file")->required();
    import->add_option("--log", *log, "the log to add to (default: as in the settings)")->type_name("FILE");
    addExamples(import, "  landfall import ines.landfall");
    import->callback([file, log, &status] { status = runImport(*file, *log); });
}

void addReportCommand(CLI::App& app, int& status) {
    auto options = std::make_shared<ReportOptions>();
    CLI::App* command = app.add_subcommand("report", "Write what a student's log says as one page to read or print");
    command->add_option("STUDENT", options->student, "a student's name, or the beginning of a UUID where two have it")
        ->required();
    command->add_option("--since", options->since, "only what was played from this day on, such as 2027-03-01")
        ->type_name("DATE")
        ->check(isDay, "");
    command->add_option("-o,--output", options->output, "the file to write")->type_name("FILE");
    command->add_option("--log", options->log, "the log to read (default: as in the settings)")->type_name("FILE");
    CLI::Option* csv = command->add_flag("--csv", options->csv, "its figures as CSV (RFC 4180)");
    command->add_flag("--json", options->json, "its figures as JSON")->excludes(csv);
    addExamples(command, "  landfall report Ines -o ines.html\n  landfall report Ines --since 2027-03-01 --json");
    command->callback([options, &status] { status = runReport(*options); });
}

void addOpenCommand(CLI::App& app, int& status) {
    auto options = std::make_shared<OpenOptions>();
    CLI::App* command =
        app.add_subcommand("open", "Take in a teacher's lesson, or show the homework and what was done of it");
    CLI::Option* file = command->add_option("FILE", options->file, "a lesson file; left out: the homework is shown");
    command->add_option("--student", options->student, "whose homework (default: as in the settings)")
        ->type_name("NAME");
    command->add_option("--log", options->log, "the log to keep it with (default: as in the settings)")
        ->type_name("FILE");
    CLI::Option* away = command->add_option("--put-away", options->putAway, "a lesson that is homework no longer")
                            ->type_name("TITLE")
                            ->excludes(file);
    command->add_option("--take-out", options->takeOut, "take that back")
        ->type_name("TITLE")
        ->excludes(file)
        ->excludes(away);
    command->add_flag("--json", options->json, "print JSON");
    addExamples(command,
                "  landfall open week-3.lesson.toml\n  landfall open\n  landfall practise --homework\n"
                "  landfall open --put-away 'Full steps that arrive'");
    command->callback([options, &status] { status = runOpen(*options); });
}

void addNextCommand(CLI::App& app, int& status) {
    auto options = std::make_shared<NextOptions>();
    CLI::App* command = app.add_subcommand("next", "Say what a student should play next, and why");
    command->add_option("STUDENT", options->student, "a student's name, or the beginning of a UUID where two have it")
        ->required();
    command->add_option("--log", options->log, "the log to read (default: as in the settings)")->type_name("FILE");
    CLI::Option* json = command->add_flag("--json", options->json, "print JSON");
    command->add_flag("--file", options->file, "print it as a drill file, for landfall practise")->excludes(json);
    addExamples(command, "  landfall next Ines\n  landfall next Ines --file > next.toml");
    command->callback([options, &status] { status = runNext(*options); });
}

// What was to be played in a recording: moves, a drill or a phrase.
void addAsked(CLI::App* command, MarkOptions& options) {
    CLI::Option_group* asked = command->add_option_group("What was to be played, one of", "");
    asked->set_help_flag();  // it is the command's
    asked
        ->add_option("--move", options.moves,
                     "GESTURE:FROM:TO, and another --move for each that follows. GESTURE is " + gestureChoice()
                         + ", or any for a bend or a slide as it is heard; FROM and TO are notes such as D4 or F#4, or MIDI "
                           "numbers such as 62. Several strings at once: note, slide, bend or release with a + between "
                           "the notes, low to high, as bend:D4+G4:E4+G4 or note:D4+B4")
        ->type_name("MOVE")
        ->expected(1)
        ->take_all();
    asked
        ->add_option("--drill", options.drill,
                     "the moves of a drill, try after try: " + drillNames() + "; or a drill file")
        ->type_name("DRILL");
    CLI::Option* phrase = asked->add_option("--phrase", options.phrase, phraseHelp)->type_name("PHRASE");
    asked->require_option(1);
    command->add_option("--tempo", options.tempo, "for --phrase: the tempo aimed at, 20 to 400 quarters a minute")
        ->type_name("TEMPO")
        ->check(between(20.0, 400.0))
        ->needs(phrase);
    // A phrase says its own notes, and is held against concert pitch.
    for (const char* ofTries : {"--target", "--tuning", "--capo", "--frets"})
        phrase->excludes(command->get_option(ofTries));
    command->add_option("--svg", options.svg, "for --phrase: a picture to write, each move a small sweep (SVG)")
        ->type_name("FILE")
        ->needs(phrase);
}

void addMarkCommand(CLI::App& app, int& status) {
    auto options = std::make_shared<MarkOptions>();
    CLI::App* command = app.add_subcommand("mark", "Mark how bends and slides landed in a recording");
    command->add_option("TAKE", options->take, "a sound file: WAV, FLAC, AIFF, Ogg or MP3")->required();
    CLI::Option* json = command->add_flag("--json", options->json, "print JSON");
    command->add_flag("--summary", options->summary, "print a table (as without --json)")->excludes(json);
    command->add_option("--target", options->target, targetHelp)
        ->type_name("TARGET")
        ->check(isTarget)
        ->capture_default_str();
    command->add_option("--a4", options->a4, "what A4 is tuned to, 430 to 450 Hz")
        ->type_name("HZ")
        ->check(between(430.0, 450.0))
        ->capture_default_str();
    command
        ->add_option("--aim", options->aim,
                     "how far from the target still counts as good, 1 to 100 cents (100 cents are one fret)")
        ->type_name("CENTS")
        ->check(between(1.0, 100.0))
        ->capture_default_str();
    command->add_option("--channel", options->channel, "channel of the file, from 1")
        ->type_name("NUMBER")
        ->check(between(1, 64))
        ->capture_default_str();
    addGuitar(command, options->tuning, options->capo, options->frets, "for --drill: ");
    addAsked(command, *options);
    addExamples(command,
                "  landfall mark take.wav --move bend:D4:E4 --move release:E4:D4\n"
                "  landfall mark take.wav --move note:D4+B4 --move slide:D4+B4:E4+C5\n"
                "  landfall mark take.flac --drill 'Half up' --aim 15\n"
                "  landfall mark take.wav --phrase 'Two stairs down' --tempo 72 --svg stairs.svg");
    command->callback([options, &status] { status = runMark(*options); });
}

void addCheckCommand(CLI::App& app, int& status) {
    auto options = std::make_shared<CheckOptions>();
    CLI::App* command =
        app.add_subcommand("check", "Say what is here: version, settings, input device and its latency, log");
    command->add_option("--log", options->log, "the log to look at (default: as in the settings)")->type_name("FILE");
    CLI::Option* tone =
        command->add_flag("--tone", options->tone, "play a test tone, quiet at first, where target notes are played");
    command->add_option("--device", options->device, "for --tone: the input device, or part of its name")
        ->type_name("NAME")
        ->needs(tone);
    command
        ->add_option("--output", options->output,
                     "for --tone: the output device (default: as in the settings, else the input's own)")
        ->type_name("NAME")
        ->needs(tone);
    command->add_option("--rate", options->rate, std::string("for --tone: ") + rateHelp)
        ->type_name("HZ")
        ->check(between(16000, 192000))
        ->needs(tone);
    addExamples(command, "  landfall check\n  landfall check --tone --output 'USB'");
    command->callback([options, &status] { status = runCheck(*options); });
}

void addTrackCommand(CLI::App& app, int& status) {
    auto options = std::make_shared<TrackOptions>();
    CLI::App* command = app.add_subcommand("track", "Print the pitch of a sound file over time as CSV");
    command->add_option("TAKE", options->take, "a sound file: WAV, FLAC, AIFF, Ogg or MP3")->required();
    command->add_option("--stream", options->stream, "settled (as scored) or provisional (as drawn, sooner)")
        ->type_name("STREAM")
        ->check(isStream)
        ->capture_default_str();
    command->add_option("--channel", options->channel, "channel of the file, from 1")
        ->type_name("NUMBER")
        ->capture_default_str();
    addExamples(command, "  landfall track take.wav > pitch.csv");
    command->callback([options, &status] { status = runTrack(*options); });
}

}  // namespace

}  // namespace landfall

int main(int argc, char** argv) {
    CLI::App app{"Landfall measures how guitar bends and slides land. Without a command it opens its window."};
    app.name("landfall");
    app.formatter(std::make_shared<landfall::PlainHelp>());
    app.get_formatter()->label("Positionals", "What it takes");
    app.get_formatter()->label("Subcommands", "Commands");
    app.require_subcommand(0, 1);
    app.failure_message([](const CLI::App*, const CLI::Error& error) {
        return "landfall: " + landfall::printable(landfall::plainWords(error))
               + " (landfall --help and landfall COMMAND --help list what there is)\n";
    });
    int status = 0;
    landfall::addWindow(app, status);
    landfall::addPractiseCommand(app, status);
    landfall::addDemoCommand(app, status);
    landfall::addDrillsCommand(app, status);
    landfall::addPhrasesCommand(app, status);
    landfall::addDevicesCommand(app, status);
    landfall::addAudioProcessCommand(app, status);
    landfall::addLogCommand(app, status);
    landfall::addStudentsCommand(app, status);
    landfall::addGuitarsCommand(app, status);
    landfall::addExchangeCommands(app, status);
    landfall::addReportCommand(app, status);
    landfall::addOpenCommand(app, status);
    landfall::addNextCommand(app, status);
    landfall::addMarkCommand(app, status);
    landfall::addCheckCommand(app, status);
    landfall::addTrackCommand(app, status);
    const auto commands = app.get_subcommands([](const CLI::App*) { return true; });
    // A file for the window is no misspelt command.
    const bool isFile = argc > 1 && std::string_view(argv[1]).find_first_of("./") != std::string_view::npos;
    if (argc > 1 && argv[1][0] != '-' && !isFile
        && std::none_of(commands.begin(), commands.end(),
                        [&](const CLI::App* command) { return command->get_name() == argv[1]; })) {
        fmt::print(stderr, "landfall: there is no command '{}' (landfall --help lists what there is)\n",
                   landfall::printable(argv[1]));
        return 2;
    }
    try {
        app.parse(argc, argv);
    } catch (const CLI::ParseError& error) {
        return app.exit(error) == 0 ? 0 : 2;
    } catch (const std::exception& error) {  // a stream or a folder that gives way in mid-work
        return landfall::fail({landfall::Error::Code::failed, error.what()});
    }
    if (std::fflush(stdout) != 0 || std::ferror(stdout) != 0)
        return landfall::fail(
            {landfall::Error::Code::unwritable, "what was to be printed could not be written: is the disk full?"});
    return status;
}
