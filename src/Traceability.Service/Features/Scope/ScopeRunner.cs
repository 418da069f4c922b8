using Npgsql;
using Traceability.Contracts;
using Traceability.Domain.Facts;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Traceability.Domain.Tools;
using Traceability.Service.Storage;
using Traceability.Service.Storage.Answers;

namespace Traceability.Service.Features.Scope;

/// <summary>Runs questions for a scope. Everything that asks for one goes through it.</summary>
/// <param name="seconds">Gives second connections for large scopes.</param>
/// <param name="clock">Tells the moment of asking.</param>
internal sealed class ScopeRunner(SecondSessions seconds, TimeProvider clock)
{
    /// <summary>Rows of a snapshot.</summary>
    /// <param name="snapshot">A connection in a transaction that sees one moment.</param>
    /// <param name="suspect">What will be asked for, if that is known.</param>
    public SqlScopeSource Rows(NpgsqlConnection snapshot, Suspect? suspect = null) =>
        new(snapshot) { CountsCleared = suspect is SuspectFactor { Filter.IsNone: true }, Seconds = seconds };

    /// <summary>What the suspect reaches; null if nothing is known of it, or of a part of it.</summary>
    /// <param name="snapshot">A connection in a transaction that sees one moment.</param>
    /// <param name="suspect">What is suspected.</param>
    /// <param name="cancellation">Stops it.</param>
    public async Task<ScopeOutcome?> RunAsync(NpgsqlConnection snapshot, Suspect suspect, CancellationToken cancellation) =>
        (await AskAsync(snapshot, suspect, string.Empty, cancellation)).Outcome;

    /// <summary>What the suspect reaches, or the refusal that names every part of it of which nothing is known.</summary>
    /// <param name="snapshot">A connection in a transaction that sees one moment.</param>
    /// <param name="suspect">What is suspected.</param>
    /// <param name="pointer">Where the suspect stands in what was sent.</param>
    /// <param name="cancellation">Stops it.</param>
    public Task<(ScopeOutcome? Outcome, Refusal? Refusal)> AskAsync(
        NpgsqlConnection snapshot, Suspect suspect, string pointer, CancellationToken cancellation) =>
        AskAsync(snapshot, Rows(snapshot, suspect), null, suspect, pointer, cancellation);

    /// <summary>The same, from rows of the snapshot that are looked up through a source of one's own.</summary>
    /// <param name="snapshot">A connection in a transaction that sees one moment.</param>
    /// <param name="rows">Where the rows are.</param>
    /// <param name="through">The source that they are looked up through; null for none.</param>
    /// <param name="suspect">What is suspected.</param>
    /// <param name="pointer">Where the suspect stands in what was sent.</param>
    /// <param name="cancellation">Stops it.</param>
    public async Task<(ScopeOutcome? Outcome, Refusal? Refusal)> AskAsync(
        NpgsqlConnection snapshot, SqlScopeSource rows, IScopeSource? through, Suspect suspect, string pointer, CancellationToken cancellation)
    {
        var asOf = clock.GetUtcNow();
        var (completeness, unknown, knowledge) = await BeginAsync(snapshot, suspect, rows, cancellation);
        var found = await ScopeSearch.RunAsync(suspect, through ?? rows, knowledge, cancellation);
        if (!found.Unknown.IsEmpty)
        {
            return (null, Unknown(found.Unknown, pointer));
        }

        var whereabouts = await found.LocateAsync(cancellation);
        return (new(asOf, found, whereabouts, completeness, [.. ScopeRemarks.Of(found, knowledge, completeness, unknown)]) { Knowledge = knowledge }, null);
    }

    /// <summary>Only which units the suspect reaches, or the refusal.</summary>
    /// <param name="snapshot">A connection in a transaction that sees one moment.</param>
    /// <param name="source">Where the rows are.</param>
    /// <param name="suspect">What is suspected.</param>
    /// <param name="pointer">Where the suspect stands in what was sent.</param>
    /// <param name="cancellation">Stops it.</param>
    public static async Task<(ScopeFound? Found, Refusal? Refusal)> FindAsync(
        NpgsqlConnection snapshot, IScopeSource source, Suspect suspect, string pointer, CancellationToken cancellation)
    {
        var (_, _, knowledge) = await BeginAsync(snapshot, suspect, null, cancellation);
        var found = await ScopeSearch.RunAsync(suspect, source, knowledge, cancellation);
        return found.Unknown.IsEmpty ? (found, null) : (null, Unknown(found.Unknown, pointer));
    }

    // What doesn't depend on anything else, in one question; and the lots' uses, where rows are given to keep them.
    private static async Task<(Completeness Completeness, UnknownInside Unknown, ScopeKnowledge Knowledge)> BeginAsync(
        NpgsqlConnection snapshot, Suspect suspect, SqlScopeSource? rows, CancellationToken cancellation)
    {
        SingleSuspect[] singles = [.. suspect.Singles()];
        var families = new Dictionary<LotKey, IReadOnlyDictionary<LotKey, Lot>>();
        LotKey[] lots = [.. singles.OfType<SuspectFactor>().Select(f => f.Lot).Distinct()];
        await using var batch = new NpgsqlBatch(snapshot) { BatchCommands = { ScopePlans.Command(), CompletenessReader.Command(null), UnknownInside.Command() } };
        foreach (var lot in lots)
        {
            batch.BatchCommands.Add(LotNaming.LoadCommand([lot]));
            if (rows is not null)
            {
                batch.BatchCommands.Add(SqlScopeSource.UsagesCommand(lot));
            }
        }

        Completeness completeness;
        UnknownInside unknown;
        var found = new List<Dictionary<LotKey, Lot>>();
        await using (var reader = await batch.ExecuteReaderAsync(cancellation))
        {
            await reader.NextResultAsync(cancellation);
            completeness = await CompletenessReader.ReadAsync(reader, cancellation);
            await reader.NextResultAsync(cancellation);
            unknown = await UnknownInside.ReadAsync(reader, cancellation);
            foreach (var lot in lots)
            {
                await reader.NextResultAsync(cancellation);
                found.Add(await LotNaming.ReadMadeAsync(reader, cancellation));
                if (rows is not null)
                {
                    await reader.NextResultAsync(cancellation);
                    await rows.KeepUsagesAsync(lot, reader, cancellation);
                }
            }
        }

        foreach (var (lot, family) in lots.Zip(found))
        {
            await LotNaming.AddSourcesAsync(snapshot, family, cancellation);
            families.Add(lot, family);
        }

        foreach (var supplierLot in singles.OfType<SuspectSupplierLot>())
        {
            foreach (var lot in (await LotNaming.OfSupplierLotAsync(snapshot, supplierLot.SupplierLot, cancellation)).Where(l => !families.ContainsKey(l)))
            {
                families.Add(lot, await LotNaming.LoadAsync(snapshot, [lot], cancellation));
            }
        }

        return (completeness, unknown, new(families) { Tools = await ToolsAsync(snapshot, [.. singles.OfType<SuspectTool>().Select(t => t.Tool).Distinct()], cancellation) });
    }

    private static async Task<Dictionary<ToolNumber, Tool>> ToolsAsync(
        NpgsqlConnection snapshot, IReadOnlyCollection<ToolNumber> numbers, CancellationToken cancellation)
    {
        var tools = new Dictionary<ToolNumber, Tool>();
        if (numbers.Count > 0)
        {
            var streams = await EventReader.LoadAsync(snapshot, [.. numbers.Select(StreamNames.Of)], cancellation);
            foreach (var number in numbers)
            {
                if (streams.TryGetValue(StreamNames.Of(number), out var facts))
                {
                    tools.Add(number, Tool.Of(number, facts));
                }
            }
        }

        return tools;
    }

    private static Refusal Unknown(ImmutableArray<UnknownSuspect> unknown, string pointer)
    {
        var (code, detail) = Describe(unknown[0].Suspect);
        return new(code, RefusalKind.Unknown, detail, [.. unknown.Select(u => new Fault(pointer + u.Pointer + Member(u.Suspect), Describe(u.Suspect).Detail))]);
    }

    private static (string Code, string Detail) Describe(SingleSuspect suspect) => suspect switch
    {
        SuspectFactor f => ("lot-unknown", $"Lot {f.Lot} was never received and no record names it. Check item and lot number."),
        SuspectSupplierLot s => ("lot-unknown", $"No lot was received as supplier's lot {s.SupplierLot}. Check its number, and the supplier."),
        SuspectTool t => ("tool-unknown", $"Tool {t.Tool} is not known and no record names it. Correct its number."),
        SuspectComponent c => ("unit-unknown", $"Unit {c.Unit} is not known. Correct its item and serial number."),
        _ => throw new System.Diagnostics.UnreachableException(),
    };

    private static string Member(SingleSuspect suspect) => suspect switch
    {
        SuspectFactor => "/lot",
        SuspectSupplierLot => "/supplierLot",
        SuspectTool => "/tool",
        SuspectComponent => "/serial",
        _ => string.Empty,
    };
}
