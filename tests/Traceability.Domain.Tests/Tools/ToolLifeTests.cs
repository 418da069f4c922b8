using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Domain.Tools;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Tools;

/// <summary>The life of a tool as a table: every state against every command.</summary>
public sealed class ToolLifeTests
{
    private const string Unknown = "!tool-unknown";
    private const string Already = "!tool-already-withdrawn";
    private const string InUse = "!tool-not-withdrawn";
    private const string NotYet = "!tool-not-in-order";

    private static readonly ToolNumber Driver = ToolNumber.Parse("SD-1");

    private static readonly string[] Commands =
        ["define", "calibrate", "calibrate, found bad", "calibrate, left bad", "verify", "check, passed", "check, failed", "study", "withdraw", "reinstate"];

    // What comes of it: the next state, with * while out of use, or the code of the refusal. Columns as above.
    private static readonly Dictionary<string, string[]> Table = new(StringComparer.Ordinal)
    {
        ["unknown"] = ["NotCalibrated", Unknown, Unknown, Unknown, Unknown, Unknown, Unknown, Unknown, Unknown, Unknown],
        ["not required"] = ["NotRequired", "NotRequired", "NotRequired", "Failed", "NotRequired", "NotRequired", "Failed", "NotRequired", "NotRequired*", InUse],
        ["not calibrated"] = ["NotCalibrated", "Valid", "Valid", "Failed", "NotCalibrated", "NotCalibrated", "Failed", "NotCalibrated", "NotCalibrated*", InUse],
        ["valid"] = ["Valid", "Valid", "Valid", "Failed", "Valid", "Valid", "Failed", "Valid", "Valid*", InUse],
        ["due"] = ["Due", "Valid", "Valid", "Failed", "Due", "Due", "Failed", "Due", "Due*", InUse],
        ["due by interval"] = ["Due", "Valid", "Valid", "Failed", "Due", "Due", "Failed", "Due", "Due*", InUse],
        ["failed a check"] = ["Failed", "Valid", "Valid", "Failed", "Failed", "Valid", "Failed", "Failed", "Failed*", InUse],
        ["left bad"] = ["Failed", "Valid", "Valid", "Failed", "Failed", "Failed", "Failed", "Failed", "Failed*", InUse],
        ["not required, withdrawn"] = ["NotRequired*", "NotRequired*", "NotRequired*", "Failed*", "NotRequired*", "NotRequired*", "Failed*", "NotRequired*", Already, "NotRequired"],
        ["not calibrated, withdrawn"] = ["NotCalibrated*", "Valid*", "Valid*", "Failed*", "NotCalibrated*", "NotCalibrated*", "Failed*", "NotCalibrated*", Already, NotYet],
        ["valid, withdrawn"] = ["Valid*", "Valid*", "Valid*", "Failed*", "Valid*", "Valid*", "Failed*", "Valid*", Already, "Valid"],
        ["due, withdrawn"] = ["Due*", "Valid*", "Valid*", "Failed*", "Due*", "Due*", "Failed*", "Due*", Already, NotYet],
        ["due by interval, withdrawn"] = ["Due*", "Valid*", "Valid*", "Failed*", "Due*", "Due*", "Failed*", "Due*", Already, NotYet],
        ["failed a check, withdrawn"] = ["Failed*", "Valid*", "Valid*", "Failed*", "Failed*", "Valid*", "Failed*", "Failed*", Already, NotYet],
        ["left bad, withdrawn"] = ["Failed*", "Valid*", "Valid*", "Failed*", "Failed*", "Failed*", "Failed*", "Failed*", Already, NotYet],
    };

    public static TheoryData<string, string, string> Cells()
    {
        var cells = new TheoryData<string, string, string>();
        foreach (var (state, row) in Table)
        {
            Assert.Equal(Commands.Length, row.Length);
            for (var c = 0; c < row.Length; c++)
            {
                cells.Add(state, Commands[c], row[c]);
            }
        }

        return cells;
    }

    [Theory]
    [MemberData(nameof(Cells))]
    public void Each_command_in_each_state_is_recorded_or_refused_as_the_table_says(string state, string command, string expected)
    {
        var story = Given(state);
        var fact = Command(command, state);
        var refusal = DefinitionDecisions.Check(fact, story.References);

        if (expected[0] == '!')
        {
            Assert.Equal((expected[1..], "/tool"), (refusal?.Code, refusal?.Faults.Single().Pointer));
            return;
        }

        Assert.Null(refusal);
        var standing = ToolLife.At(story.Know(fact).References.FindTool(Driver)!, Some.Noon);
        Assert.Equal(expected, standing.Condition + (standing.Withdrawal is null ? string.Empty : "*"));
        Assert.Equal(expected is "Valid" or "NotRequired", standing.IsUsable);
    }

    [Theory]
    [InlineData(null, null, null)]
    [InlineData(4_000.0, null, 4_000.0)]
    [InlineData(null, 500.0, 400.0)]
    [InlineData(4_000.0, 500.0, 4_000.0)]
    public void A_calibration_ends_when_it_says_so_or_by_the_tools_interval(double? validUntil, double? interval, double? expected)
    {
        var tool = new UnitStory(Some.Unit("LAMP", "1"))
            .Know(Defined(true) with { CalibrationInterval = interval is { } i ? TimeSpan.FromMinutes(i) : null })
            .Calibrated("SD-1", -100, validUntil: validUntil)
            .References.FindTool(Driver)!;

        Assert.Equal(expected is { } e ? Some.At(e) : null, ToolLife.At(tool, Some.Noon).DueAt);
        Assert.Equal(ToolCondition.Valid, ToolLife.At(tool, Some.At((expected ?? 9_000) - 1)).Condition);
        Assert.Equal(expected is null ? ToolCondition.Valid : ToolCondition.Due, ToolLife.At(tool, Some.At(expected ?? 9_000)).Condition);
    }

    [Fact]
    public void A_failed_check_of_one_setting_is_cleared_by_that_setting_or_by_the_whole()
    {
        UnitStory Failed() => Given("valid").Checked("SD-1", "5", 1.4m, -20);
        ToolCondition Then(UnitStory story) => ToolLife.At(story.References.FindTool(Driver)!, Some.Noon).Condition;

        Assert.Equal(ToolCondition.Failed, Then(Failed().Checked("SD-1", "3", 1.2m, -10)));
        Assert.Equal(ToolCondition.Valid, Then(Failed().Checked("SD-1", "5", 1.2m, -10)));
        Assert.Equal(ToolCondition.Valid, Then(Failed().Checked("SD-1", null, 1.2m, -10)));
        Assert.Equal(ToolCondition.Failed, Then(Given("valid").Checked("SD-1", null, 1.4m, -20).Checked("SD-1", "5", 1.2m, -10)));
        Assert.Equal(ToolCondition.Valid, Then(Failed().Checked("SD-1", "5", 1.2m, -21).Calibrated("SD-1", -5)));
    }

    private static UnitStory Given(string state)
    {
        var story = new UnitStory(Some.Unit("LAMP", "1"));
        _ = state.Split(',')[0] switch
        {
            "unknown" => story,
            "not required" => story.Know(Defined(false)),
            "not calibrated" => story.Know(Defined(true)),
            "valid" => story.Know(Defined(true)).Calibrated("SD-1", -100, validUntil: 4_000),
            "due" => story.Know(Defined(true)).Calibrated("SD-1", -100, validUntil: 0),
            "due by interval" => story.Know(Defined(true) with { CalibrationInterval = TimeSpan.FromMinutes(100) }).Calibrated("SD-1", -100),
            "failed a check" => story.Know(Defined(true)).Calibrated("SD-1", -100, validUntil: 4_000).Checked("SD-1", "5", 1.4m, -50),
            "left bad" => story.Know(Defined(true)).Calibrated("SD-1", -100, leftGood: false),
            _ => throw new ArgumentException(state, nameof(state)),
        };
        return state.EndsWith("withdrawn", StringComparison.Ordinal) ? story.Withdrawn("SD-1", -5) : story;
    }

    private static Fact Command(string command, string state) => command switch
    {
        "define" => Defined(!state.StartsWith("not required", StringComparison.Ordinal)) with { CalibrationInterval = state.StartsWith("due by", StringComparison.Ordinal) ? TimeSpan.FromMinutes(100) : null },
        "calibrate" => new ToolCalibrated(Driver, FoundGood: true, LeftGood: true, Some.At(9_000), null) { OccurredAt = Some.Noon },
        "calibrate, found bad" => new ToolCalibrated(Driver, FoundGood: false, LeftGood: true, Some.At(9_000), null) { OccurredAt = Some.Noon },
        "calibrate, left bad" => new ToolCalibrated(Driver, FoundGood: false, LeftGood: false, null, null) { OccurredAt = Some.Noon },
        "verify" => new ToolSettingVerified(Driver, Some.Code("5"), new(1.2m, "N.m"), null) { OccurredAt = Some.Noon },
        "check, passed" => Checked(1.2m),
        "check, failed" => Checked(1.4m),
        "study" => new ToolStudied(Driver, Some.Code("5"), Some.Code("HARD"), [new(1.2m, "N.m"), new(1.3m, "N.m")]) { OccurredAt = Some.Noon },
        "withdraw" => new ToolWithdrawn(Driver, "dropped") { OccurredAt = Some.Noon },
        "reinstate" => new ToolReinstated(Driver, "repaired") { OccurredAt = Some.Noon },
        _ => throw new ArgumentException(command, nameof(command)),
    };

    private static ToolDefined Defined(bool needsCalibration) => new(Driver, Some.Code("SCREWDRIVER"), "driver", needsCalibration) { OccurredAt = Some.At(-9_000) };

    private static ToolChecked Checked(decimal reading) =>
        new(Driver, Some.Code("5"), [new(reading, "N.m")], new(1.1m, "N.m"), new(1.3m, "N.m"), null) { OccurredAt = Some.Noon };
}
