using System.ComponentModel;
using System.Globalization;
using Spectre.Console.Cli;
using Traceability.Contracts;
using Traceability.Contracts.Scope;

namespace Traceability.Terminal.Commands;

/// <summary>Which units does a suspect reach, or may it have reached?</summary>
internal sealed class ScopeCommand(TerminalContext context) : TerminalCommand<ScopeCommand.Settings>(context)
{
    /// <summary>How long a scope or a case may take to be answered.</summary>
    public const int TimeoutSeconds = 120;

    protected override async Task<int> RunAsync(Settings settings, CancellationToken cancellation)
    {
        TerminalContext.RequireNew(settings.Csv);
        using var client = Context.Client(settings, timeoutSeconds: TimeoutSeconds);
        var answer = await WholeAsync(
            settings.Saved is { } name
                ? settings.File is null && !settings.IsTyped ? client.GetWholeSavedScopeAsync(name, cancellation: cancellation) : throw new NotUnderstoodException("--saved is the whole question: give nothing else.")
                : client.AskWholeScopeAsync(await settings.SuspectAsync(Context, cancellation).ConfigureAwait(false), cancellation: cancellation)).ConfigureAwait(false);
        if (settings.Csv is { } file)
        {
            await TerminalContext.WriteNewAsync(file, Csv(answer), cancellation).ConfigureAwait(false);
        }

        if (settings.Json)
        {
            Context.WriteJson(answer);
        }
        else
        {
            Show(answer, settings);
        }

        return answer.Completeness.IsComplete ? ExitCodes.Done : ExitCodes.Incomplete;
    }

    /// <summary>What stands against taking an answer as complete; empty if nothing.</summary>
    public static string Lacks(Completeness completeness) => completeness.IsComplete ? string.Empty : string.Create(
        CultureInfo.InvariantCulture,
        $"INCOMPLETE: {completeness.UnreadableUnits} units and {completeness.UnreadableRecords} records are touched by something that can't be read, {completeness.RejudgementsPending} units are being judged anew.");

    // Each page is answered at its own moment: what was recorded between two of them makes the whole doubtful.
    private static async Task<ScopeQuestionAnswer> WholeAsync(IAsyncEnumerable<ScopeQuestionAnswer> pages)
    {
        List<ScopeQuestionMember> members = [];
        var (first, last) = (default(ScopeQuestionAnswer), default(ScopeQuestionAnswer));
        var completeness = default(Completeness);
        await foreach (var page in pages.ConfigureAwait(false))
        {
            members.AddRange(page.Members);
            first ??= page;
            last = page;
            completeness = completeness is { IsComplete: false } ? completeness : page.Completeness;
        }

        var whole = last! with { AsOf = first!.AsOf, Members = members, After = null, Completeness = completeness! };
        return last!.Totals.Members == members.Count && first.Totals.Members == members.Count ? whole : whole with
        {
            Completeness = completeness! with { IsComplete = false },
            Remarks = ["The scope changed while its pages were read: members may be missing from the list. Ask again.", .. whole.Remarks],
        };
    }

    private static byte[] Csv(ScopeQuestionAnswer answer)
    {
        var csv = new CsvText();
        csv.Add("item", "serial", "verdict", "now", "reason", "exposedFrom", "exposedTo", "place", "step", "since", "consignee", "insideItem", "insideSerial", "suspects", "records", "asOf");
        foreach (var m in answer.Members)
        {
            csv.Add(
                m.Item, m.Serial, m.Verdict, m.Now, m.Reason, CsvText.Time(m.ExposedFrom), CsvText.Time(m.ExposedTo), m.Whereabouts.Place, m.Whereabouts.Step, CsvText.Time(m.Whereabouts.Since),
                m.Whereabouts.Consignee, m.Whereabouts.Inside?.Item, m.Whereabouts.Inside?.Serial, string.Join("; ", m.Ways.Select(w => $"{w.Suspect} ({w.Verdict})")), Records(m), CsvText.Time(answer.AsOf));
        }

        return csv.ToBytes();
    }

    private static string Records(ScopeQuestionMember member) =>
        string.Join(' ', member.Ways.SelectMany(w => w.Path).Select(h => h.Evidence.Record).OfType<Guid>().Distinct());

    private static string Place(ScopeWhereabouts at) =>
        $"{at.Place}{(at.Step is { } step ? $" at {step}" : string.Empty)}{(at.Consignee is { } to ? $" to {to}" : string.Empty)}{(at.Inside is { } i ? $" inside {i.Item}/{i.Serial}" : string.Empty)}";

    // What stands against relying on it comes before the numbers.
    private void Show(ScopeQuestionAnswer answer, Settings settings)
    {
        Context.Show($"Suspect: {answer.Words}");
        if (Lacks(answer.Completeness) is { Length: > 0 } lacks)
        {
            Context.Show(lacks);
        }

        answer.Remarks.ToList().ForEach(r => Context.Show($"Note: {r}"));
        var totals = answer.Totals;
        var cleared = totals.Cleared is { } n ? string.Create(CultureInfo.InvariantCulture, $" {n} more are cleared by a record.") : string.Empty;
        Context.Show(string.Create(
            CultureInfo.InvariantCulture,
            $"{totals.Members} units: {totals.Proven} proven, {totals.Possible} possible; of these {totals.ClearNow} were exposed and are clear now.{cleared} As of {Sentences.Time(answer.AsOf.ToLocalTime())}"));
        Tables.Write(
            Context,
            ["Place", "Proven", "Possible"],
            totals.Places.Select(p => new[] { p.Place, p.Proven.ToString(CultureInfo.InvariantCulture), p.Possible.ToString(CultureInfo.InvariantCulture) }));

        if (settings.Csv is { } file)
        {
            Context.Show(string.Create(CultureInfo.InvariantCulture, $"{answer.Members.Count} members written to {file}."));
        }
        else
        {
            ShowMembers(answer, settings.Show);
        }
    }

    private void ShowMembers(ScopeQuestionAnswer answer, int most)
    {
        Tables.Write(
            Context,
            ["Item", "Serial", "Verdict", "Now", "Place", "Why", "Record"],
            answer.Members.Take(most).Select(m => new[] { m.Item, m.Serial, m.Verdict, m.Now, Place(m.Whereabouts), m.Reason, Records(m) }));
        if (answer.Members.Count > most)
        {
            Context.Show(string.Create(CultureInfo.InvariantCulture, $"{answer.Members.Count - most} MORE MEMBERS are not shown here. Say --csv FILE to keep all, or --show NUMBER."));
        }
    }

    internal sealed class Settings : SuspectSettings
    {
        [CommandOption("--saved <NAME>")]
        [Description("A question that is saved under this name at the service.")]
        public string? Saved { get; init; }

        [CommandOption("--csv <FILE>")]
        [Description("Write the members to a new file, as CSV.")]
        public string? Csv { get; init; }

        [CommandOption("--show <NUMBER>")]
        [Description("The most members to show.")]
        [DefaultValue(200)]
        public int Show { get; init; } = 200;
    }
}
