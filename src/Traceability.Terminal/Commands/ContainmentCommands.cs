using System.ComponentModel;
using System.Globalization;
using Spectre.Console.Cli;
using Traceability.Client;
using Traceability.Contracts.Containments;
using Traceability.Contracts.Figures;

namespace Traceability.Terminal.Commands;

/// <summary>The containments.</summary>
internal sealed class ContainmentsCommand(TerminalContext context) : TerminalCommand<ContainmentsCommand.Settings>(context)
{
    protected override async Task<int> RunAsync(Settings settings, CancellationToken cancellation)
    {
        using var client = Context.Client(settings);
        var page = await client.GetContainmentsAsync(settings.State is { } state ? [state] : null, settings.Show, cancellation: cancellation).ConfigureAwait(false);
        if (settings.Json)
        {
            Context.WriteJson(page);
            return ExitCodes.Done;
        }

        Tables.Write(
            Context,
            ["Case", "State", "Opened", "By", "Members", "Open", "Late", "Suspect", "Title"],
            page.Containments.Select(c => new[]
            {
                c.Containment, c.State, Sentences.Time(c.OpenedAt.ToLocalTime()), c.OpenedBy ?? string.Empty, Of(c.Members), Of(c.MembersOpen), Of(c.LateNotAcknowledged), c.QuestionInWords, c.Title,
            }));
        Context.Show(page switch
        {
            { Containments: [] } => "No containment.",
            { After: not null } => "MORE CONTAINMENTS are not shown here. Say --show NUMBER, at most 1000.",
            _ => string.Create(CultureInfo.InvariantCulture, $"Containments: {page.Containments.Count}. Open: members without a final outcome. Late: nobody has taken note of them."),
        });
        return ExitCodes.Done;
    }

    private static string Of(int count) => count.ToString(CultureInfo.InvariantCulture);

    internal sealed class Settings : TerminalSettings
    {
        [CommandOption("--state <STATE>")]
        [Description("Only these: open, or closed.")]
        public string? State { get; init; }

        [CommandOption("--show <NUMBER>")]
        [Description("The most to list.")]
        [DefaultValue(100)]
        public int Show { get; init; } = 100;
    }
}

/// <summary>One containment: how it stands, its members, who has them, its report.</summary>
internal sealed class ContainmentCommand(TerminalContext context) : TerminalCommand<ContainmentCommand.Settings>(context)
{
    protected override async Task<int> RunAsync(Settings settings, CancellationToken cancellation)
    {
        var format = settings.Report is { } file ? Format(file) : null;
        TerminalContext.RequireNew(settings.Report);
        using var client = Context.Client(settings, timeoutSeconds: ScopeCommand.TimeoutSeconds);
        var view = await client.GetContainmentAsync(settings.Case, cancellation).ConfigureAwait(false);
        var members = settings.Members is { } only ? await MembersAsync(client, settings.Case, only == "all" ? null : only, cancellation).ConfigureAwait(false) : null;
        var consignees = settings.Consignees ? await ConsigneesAsync(client, settings.Case, cancellation).ConfigureAwait(false) : null;
        if (format is not null)
        {
            await TerminalContext.WriteNewAsync(settings.Report!, await client.GetContainmentReportAsync(settings.Case, format, cancellation).ConfigureAwait(false), cancellation).ConfigureAwait(false);
        }

        if (settings.Json)
        {
            Context.WriteJson(new { containment = view, members, consignees });
        }
        else
        {
            Show(view);
            Show(members);
            Show(consignees);
            if (settings.Report is { } kept)
            {
                Context.Show($"The report is written to {kept}.");
            }
        }

        return view is { IsScoped: true, HasUnreadable: false, Completeness.IsComplete: true } && view.Runs.All(r => r.IsComplete) ? ExitCodes.Done : ExitCodes.Incomplete;
    }

    private static string Format(string file) => Path.GetExtension(file) switch
    {
        ".pdf" => "pdf",
        ".csv" => "csv",
        ".html" or ".htm" => "html",
        _ => throw new NotUnderstoodException($"--report takes a file that ends with .html, .pdf or .csv (the members), not '{file}'."),
    };

    private static async Task<List<ContainmentMemberView>> MembersAsync(TraceabilityClient client, string id, string? only, CancellationToken cancellation)
    {
        List<ContainmentMemberView> members = [];
        await foreach (var page in client.GetAllContainmentMembersAsync(id, only, cancellation: cancellation).ConfigureAwait(false))
        {
            members.AddRange(page.Members);
        }

        return members;
    }

    private static async Task<List<ConsigneeView>> ConsigneesAsync(TraceabilityClient client, string id, CancellationToken cancellation)
    {
        List<ConsigneeView> consignees = [];
        await foreach (var page in client.GetAllContainmentConsigneesAsync(id, cancellation: cancellation).ConfigureAwait(false))
        {
            consignees.AddRange(page.Consignees);
        }

        return [.. consignees.GroupBy(c => c.Consignee, StringComparer.Ordinal).Select(g => new ConsigneeView(g.Key, [.. g.SelectMany(c => c.Members)]))];
    }

    private static string Counts(IReadOnlyList<NamedCount> counts) =>
        counts.Count == 0 ? "none" : string.Join(", ", counts.Select(c => string.Create(CultureInfo.InvariantCulture, $"{c.Name} {c.Count}")));

    private static string Of(Share share) => share.Estimate is { } estimate
        ? string.Create(CultureInfo.InvariantCulture, $"{share.Numerator} of {share.Denominator} ({estimate:P1}; Wilson 95 % interval {share.Lower:P1} to {share.Upper:P1})")
        : string.Create(CultureInfo.InvariantCulture, $"{share.Numerator} of {share.Denominator}");

    // What stands against relying on it comes before the numbers.
    private void Show(ContainmentView view)
    {
        Context.Show($"{view.Containment} {view.State}: {view.Title}");
        Context.Show($"Suspect: {view.QuestionInWords}. Reason: {view.Reason}");
        Context.Show($"Opened {Sentences.Time(view.OpenedAt.ToLocalTime())} by {view.OpenedBy ?? "nobody named"}. As of {Sentences.Time(view.AsOf.ToLocalTime())}");
        string[] lacks =
        [
            view.IsScoped ? string.Empty : "INCOMPLETE: the first run has not ended; members are missing.",
            view.HasUnreadable ? "INCOMPLETE: some stored facts of this case can't be read; members or outcomes may be missing." : string.Empty,
            ScopeCommand.Lacks(view.Completeness),
            .. view.Runs.Where(r => !r.IsComplete).Select(r => string.Create(CultureInfo.InvariantCulture, $"INCOMPLETE: run {r.Run} of {Sentences.Time(r.AsOf.ToLocalTime())} could not read everything.")),
        ];
        lacks.Where(l => l.Length > 0).ToList().ForEach(Context.Show);
        view.Runs.SelectMany(r => r.Remarks).Distinct(StringComparer.Ordinal).ToList().ForEach(r => Context.Show($"Note: {r}"));
        var f = view.Figures;
        Context.Show(string.Create(CultureInfo.InvariantCulture, $"{f.Members} members: {Counts(f.Verdicts)}. Now: {Counts(f.Places)}."));
        Context.Show(string.Create(CultureInfo.InvariantCulture, $"Stopped by this case now: {f.Held}. Without a final outcome: {f.Open}. Came late: {f.Late}, of which nobody has taken note: {f.LateNotAcknowledged}."));
        Context.Show($"With a final outcome: {Of(f.Effectiveness)}. Of those that left: {Of(f.EffectivenessOfLeft)}.");
        Context.Show($"Outcomes: {Counts(f.Outcomes)}. Of those that left: {Counts(f.OutcomesOfLeft)}.");
        view.Words.ToList().ForEach(w => Context.Show($"{Sentences.Time(w.At.ToLocalTime())} {w.Person}: {w.Words}"));
    }

    private void Show(List<ContainmentMemberView>? members)
    {
        if (members is null)
        {
            return;
        }

        Tables.Write(
            Context,
            ["Unit", "Verdict", "Now", "Holds", "Outcome", "Late", "Why", "Record"],
            members.Select(m => new[]
            {
                $"{m.Unit.Item}/{m.Unit.Serial}",
                m.Verdict,
                $"{m.Now.Place}{(m.Now.Step is { } s ? $" at {s}" : string.Empty)}{(m.Now.Consignee is { } c ? $" to {c}" : string.Empty)}{(m.Now.Inside is { } i ? $" inside {i.Item}/{i.Serial}" : string.Empty)}",
                string.Join(' ', m.Holds),
                m.Outcome is { } o ? $"{o.Outcome}{(o.IsFinal ? string.Empty : " (not final)")}" : "none recorded",
                m.IsLate ? m.IsAcknowledged ? "late" : "LATE" : string.Empty,
                m.Why ?? string.Empty,
                m.Evidence?.ToString() ?? "none: a record is missing",
            }));
        Context.Show(string.Create(CultureInfo.InvariantCulture, $"Members: {members.Count}."));
    }

    private void Show(List<ConsigneeView>? consignees)
    {
        if (consignees is null)
        {
            return;
        }

        Tables.Write(
            Context,
            ["Consignee", "Unit", "Shipped as", "Shipped", "Order", "Verdict", "Outcome"],
            consignees.SelectMany(c => c.Members.Select(m => new[]
            {
                c.Consignee, $"{m.Unit.Item}/{m.Unit.Serial}", $"{m.Shipped.Item}/{m.Shipped.Serial}", Sentences.Time(m.ShippedAt?.ToLocalTime()), m.OrderReference ?? string.Empty, m.Verdict, m.Outcome?.Outcome ?? "none recorded",
            })));
        Context.Show(string.Create(CultureInfo.InvariantCulture, $"Consignees that have members: {consignees.Count}."));
    }

    internal sealed class Settings : TerminalSettings
    {
        [CommandArgument(0, "<CASE>")]
        [Description("The number of the case.")]
        public required string Case { get; init; }

        [CommandOption("--members <WHICH>")]
        [Description("List members: all, open (without a final outcome), late, late-not-acknowledged, not-reached.")]
        public string? Members { get; init; }

        [CommandOption("--consignees")]
        [Description("List who has members.")]
        public bool Consignees { get; init; }

        [CommandOption("--report <FILE>")]
        [Description("Keep the whole case as a new file: .html, .pdf, or .csv (the members).")]
        public string? Report { get; init; }
    }
}
