using System.ComponentModel;
using System.Text.Json;
using System.Text.Json.Serialization;
using Spectre.Console.Cli;
using Traceability.Contracts;
using Traceability.Contracts.Scope;

namespace Traceability.Terminal.Commands;

/// <summary>What is suspected, as it is typed.</summary>
internal class SuspectSettings : TerminalSettings
{
    // A word that is not understood must not make the question a wider or a narrower one.
    private static readonly JsonSerializerOptions Strict = NewStrict();

    [CommandArgument(0, "[FILE]")]
    [Description("The question as JSON, as docs/reference/scope-questions.md has it. Without it, the options below; without these, from standard input.")]
    public string? File { get; init; }

    [CommandOption("--lot <ITEM=LOT>")]
    [Description("A lot: ITEM=LOT, one container of it: ITEM=LOT/CONTAINER. May be repeated.")]
    public string[] Lots { get; init; } = [];

    [CommandOption("--supplier-lot <NUMBER>")]
    [Description("A supplier's lot, as marked: every lot that came in as it. May be repeated.")]
    public string[] SupplierLots { get; init; } = [];

    [CommandOption("--serial <ITEM/SERIAL>")]
    [Description("A unit, wherever it is or was inside. May be repeated.")]
    public string[] Serials { get; init; } = [];

    [CommandOption("--tool <TOOL>")]
    [Description("A tool since it was last shown good: TOOL, at one setting TOOL=SETTING. May be repeated.")]
    public string[] Tools { get; init; } = [];

    [CommandOption("--all-uses")]
    [Description("With --tool: all its uses, also those before it was last shown good.")]
    public bool AllUses { get; init; }

    [CommandOption("--person <CODE>")]
    [Description("What this person worked on. May be repeated.")]
    public string[] People { get; init; } = [];

    [CommandOption("--step <CODE>")]
    [Description("Only uses at this step; by itself, what was worked on there.")]
    public string? Step { get; init; }

    [CommandOption("--station <CODE>")]
    [Description("Only uses at this station; by itself, what was worked on there.")]
    public string? Station { get; init; }

    [CommandOption("--from <TIME>")]
    [Description("Only uses from here on, with offset.")]
    public string? From { get; init; }

    [CommandOption("--to <TIME>")]
    [Description("Only uses before this, with offset.")]
    public string? To { get; init; }

    [CommandOption("--any")]
    [Description("Several suspects: units that any of them reaches.")]
    public bool Any { get; init; }

    [CommandOption("--all")]
    [Description("Several suspects: units that all of them reach.")]
    public bool All { get; init; }

    /// <summary>Gets whether anything was typed that makes a question.</summary>
    public bool IsTyped => Typed().Count > 0 || Any || All || AllUses;

    /// <summary>What is suspected; throws <see cref="NotUnderstoodException"/> where nothing is, or it is not clear what.</summary>
    public async Task<SuspectNode> SuspectAsync(TerminalContext context, CancellationToken cancellation)
    {
        var typed = Typed();
        if (File is not null)
        {
            return IsTyped
                ? throw new NotUnderstoodException("Give a file or options, not both: the file is the whole question.")
                : Read(await context.ReadAsync(File, cancellation).ConfigureAwait(false));
        }

        if (AllUses && Tools.Length == 0)
        {
            throw new NotUnderstoodException("--all-uses goes with --tool.");
        }

        return (typed, Any, All) switch
        {
            ({ Count: 0 }, false, false) => Read(context.HasInput ? await context.ReadAsync(null, cancellation).ConfigureAwait(false) : string.Empty),
            ({ Count: 0 }, _, _) => throw new NotUnderstoodException("--any and --all go with several suspects."),
            (_, true, true) => throw new NotUnderstoodException("--any or --all, not both."),
            ([var only], false, false) => only,
            ([_], _, _) => throw new NotUnderstoodException("--any and --all go with several suspects."),
            (_, true, _) => new OrSuspect { Of = typed },
            (_, _, true) => new AndSuspect { Of = typed },
            _ => throw new NotUnderstoodException("Several are suspected. Say --any for the units that any of them reaches, or --all for those that all of them reach."),
        };
    }

    private static SuspectNode Read(string text)
    {
        if (string.IsNullOrWhiteSpace(text))
        {
            throw new NotUnderstoodException("What is suspected? Say --lot, --supplier-lot, --serial, --tool, --person, --step, --station, or name a file.");
        }

        try
        {
            using var document = JsonDocument.Parse(text);
            var root = document.RootElement;
            var node = root.ValueKind == JsonValueKind.Object && root.TryGetProperty("suspect", out _) ? root.Deserialize<ScopeQuestion>(Strict)?.Suspect : root.Deserialize<SuspectNode>(Strict);
            return node ?? throw new NotUnderstoodException("The question is null.");
        }
        catch (Exception e) when (e is JsonException or NotSupportedException)
        {
            throw new NotUnderstoodException($"The question is not understood: {e.Message}");
        }
    }

    private static JsonSerializerOptions NewStrict()
    {
        var options = WireJson.Create();
        options.UnmappedMemberHandling = JsonUnmappedMemberHandling.Disallow;
        options.MakeReadOnly(populateMissingResolver: true);
        return options;
    }

    private List<SuspectNode> Typed()
    {
        List<SuspectNode> found =
        [
            .. Lots.Select(Lot),
            .. SupplierLots.Select(n => Narrowed(new SupplierLotSuspect { SupplierLot = n })),
            .. Serials.Select(Serial),
            .. Tools.Select(Tool),
            .. People.Select(p => Narrowed(new WorkSuspect { Person = p })),
        ];
        return found.Count == 0 && (Step ?? Station ?? From ?? To) is not null ? [Narrowed(new WorkSuspect())] : found;
    }

    private SuspectNode Lot(string text)
    {
        var (item, rest) = PartTexts.Pair(text, "--lot", "ITEM=LOT or ITEM=LOT/CONTAINER");
        return rest.Split('/', 2) is [var lot, var container]
            ? Narrowed(new ContainerSuspect { Item = item, Lot = lot, Container = container })
            : Narrowed(new LotSuspect { Item = item, Lot = rest });
    }

    private SuspectNode Serial(string text) => text.Split('/', 2) is [{ Length: > 0 } item, { Length: > 0 } serial]
        ? (Step ?? Station ?? From ?? To) is null
            ? new ComponentSuspect { Item = item, Serial = serial }
            : throw new NotUnderstoodException("A unit is suspected as a whole: --serial takes no --step, --station, --from or --to.")
        : throw new NotUnderstoodException($"--serial takes ITEM/SERIAL, not '{text}'.");

    private NarrowedSuspect Tool(string text)
    {
        var parts = text.Split('=', 2);
        return Narrowed(new ToolSuspect { Tool = parts[0], Setting = parts.Length == 2 ? parts[1] : null, Window = AllUses ? "all" : null });
    }

    private NarrowedSuspect Narrowed(NarrowedSuspect suspect) => suspect with
    {
        Step = Step,
        Station = Station,
        From = From is { } from ? PartTexts.Time(from, "--from") : null,
        To = To is { } to ? PartTexts.Time(to, "--to") : null,
    };
}
