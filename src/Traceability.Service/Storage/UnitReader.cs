using System.Data;
using Npgsql;
using Traceability.Service.Storage.Answers;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;

namespace Traceability.Service.Storage;

/// <summary>A unit judged at the moment of asking, with what it was judged by.</summary>
/// <param name="Unit">The unit's facts.</param>
/// <param name="Judgement">The judgement.</param>
/// <param name="References">What the judgement looked at.</param>
/// <param name="Parents">Where the unit was and is installed.</param>
public sealed record JudgedUnit(ProductUnit Unit, UnitJudgement Judgement, IReferences References, ImmutableArray<Installation> Parents);

/// <summary>A judged unit with the units inside it.</summary>
/// <param name="Judged">The unit.</param>
/// <param name="Inside">The units inside it that were ever opened, in the order asked for.</param>
public sealed record JudgedTree(JudgedUnit Judged, ImmutableArray<JudgedTree> Inside)
{
    /// <summary>The same as the rules of a release look at it.</summary>
    public AssembledUnit Assembled => new(Judged.Unit, Judged.References, [.. Inside.Select(i => i.Assembled)]);

    /// <summary>All of them, each before what is inside it.</summary>
    public IEnumerable<JudgedUnit> All => Inside.SelectMany(i => i.All).Prepend(Judged);
}

/// <summary>Reads units as of now: every fact acknowledged before the question is in the answer.</summary>
internal sealed class UnitReader(NpgsqlDataSource database, AnswerDatabase answers, ReferenceCache references, Checking.EventCheck check)
{
    // Deeper than any assembly.
    private const int DepthMax = 12;

    /// <summary>The unit, or null if it was never opened.</summary>
    /// <param name="key">The unit.</param>
    /// <param name="asked">Facts that the question is about: what they name is looked up too.</param>
    /// <param name="cancellation">Gives up.</param>
    public async Task<JudgedUnit?> FindAsync(UnitKey key, IEnumerable<Fact> asked, CancellationToken cancellation)
    {
        await using var connection = await database.OpenConnectionAsync(cancellation);
        await using var transaction = await connection.BeginTransactionAsync(IsolationLevel.RepeatableRead, cancellation);
        return await FindAsync(connection, key, asked, cancellation);
    }

    /// <summary>The same for somebody who waits at a bench: the snapshot is given up once the answer is sent.</summary>
    public async Task<JudgedUnit?> FindAsync(UnitKey key, IEnumerable<Fact> asked, HttpResponse answer, CancellationToken cancellation)
    {
        // What is registered last is disposed of first.
        var connection = await database.OpenConnectionAsync(cancellation);
        answer.RegisterForDisposeAsync(connection);
        answer.RegisterForDisposeAsync(await connection.BeginTransactionAsync(IsolationLevel.RepeatableRead, cancellation));
        return await FindAsync(connection, key, asked, cancellation);
    }

    /// <summary>The same for reading only: where replicas are configured, as of the moment that the answer's header tells.</summary>
    public async Task<JudgedUnit?> FindAsOfWatermarkAsync(UnitKey key, CancellationToken cancellation)
    {
        await using var session = await answers.OpenAsync(cancellation);
        return await FindAsync(session.Connection, key, [], cancellation);
    }

    /// <summary>The streams of temperatures that units may look at, each with further facts about it; null for none.</summary>
    public static IReadOnlyCollection<string>? Temperatures(References known, IEnumerable<ProductUnit> units, IEnumerable<Fact> asked)
    {
        HashSet<string>? names = null;
        foreach (var unit in units)
        {
            names = Dependencies.Temperatures(names, known, unit, asked);
        }

        return names;
    }

    /// <summary>The unit with the units inside it, all as of one moment; null if it was never opened.</summary>
    /// <param name="key">The unit.</param>
    /// <param name="asked">Facts that the question is about: what they name is looked up too, for the unit itself.</param>
    /// <param name="insideOf">Which units are inside a unit; null: those that are there now.</param>
    /// <param name="cancellation">Gives up.</param>
    public async Task<JudgedTree?> FindTreeAsync(
        UnitKey key, IEnumerable<Fact> asked, Func<JudgedUnit, IEnumerable<UnitKey>>? insideOf, CancellationToken cancellation)
    {
        await using var connection = await database.OpenConnectionAsync(cancellation);
        await using var transaction = await connection.BeginTransactionAsync(IsolationLevel.RepeatableRead, cancellation);
        return await TreeAsync(connection, key, asked, insideOf ?? InsideNow, [], cancellation);
    }

    private static IEnumerable<UnitKey> InsideNow(JudgedUnit judged) => Release.InsideOf(judged.Judgement);

    // Only records that contradict each other nest in a circle: a unit is not looked for again inside itself.
    private async Task<JudgedTree?> TreeAsync(
        NpgsqlConnection connection,
        UnitKey key,
        IEnumerable<Fact> asked,
        Func<JudgedUnit, IEnumerable<UnitKey>> insideOf,
        ImmutableHashSet<UnitKey> around,
        CancellationToken cancellation)
    {
        if (await FindAsync(connection, key, asked, cancellation) is not { Unit.Opened: not null } judged)
        {
            return null;
        }

        around = around.Add(key);
        var inside = ImmutableArray.CreateBuilder<JudgedTree>();
        foreach (var component in insideOf(judged).Where(c => !around.Contains(c)).ToArray())
        {
            if (around.Count < DepthMax && await TreeAsync(connection, component, [], insideOf, around, cancellation) is { } found)
            {
                inside.Add(found);
            }
        }

        return new(judged, inside.ToImmutable());
    }

    private async Task<JudgedUnit?> FindAsync(NpgsqlConnection connection, UnitKey key, IEnumerable<Fact> asked, CancellationToken cancellation)
    {
        var (seq, facts, parents) = await StoredAsync(connection, key, cancellation);
        if (facts.IsEmpty)
        {
            return null;
        }

        var unit = ProductUnit.Of(key, facts);
        var names = new HashSet<string>(Dependencies.Of(unit), StringComparer.Ordinal);
        foreach (var fact in asked)
        {
            Dependencies.Add(names, fact);
        }

        var components = names.Where(n => n.StartsWith(StreamNames.UnitPrefix, StringComparison.Ordinal)).ToHashSet(StringComparer.Ordinal);
        names.ExceptWith(components);
        var known = (await references.GetAsync(connection, seq, names, r => Temperatures(r, [unit], asked), cancellation)).References;
        known = await BatchTaking.WithTakenAsync(connection, known, names, 0, "traceability", cancellation);
        foreach (var (component, componentFacts) in await EventReader.LoadAsync(connection, components, cancellation))
        {
            known = known.With(component, References.Fold(component, componentFacts));
        }

        UnitKey[] keys = [.. components.Select(c => UnitKey.Parse(c[StreamNames.UnitPrefix.Length..])).Where(c => c != key)];
        var installations = await Ingest.UnitLoader.InstallationsAsync(connection, keys, cancellation);
        known = known.WithInstallations(key, parents);
        foreach (var component in keys)
        {
            known = known.WithInstallations(component, [.. installations[component]]);
        }

        var judgement = Judge.Unit(unit, known);
        foreach (var unreadable in judgement.Unreadable)
        {
            check.Notice(unreadable);
        }

        return new(unit, judgement, known, parents);
    }

    // In one round trip, for somebody waits at a bench: the reference clock, the unit's facts, and where it was and is installed.
    private static async Task<(long Seq, ImmutableArray<RecordedFact> Facts, ImmutableArray<Installation> Parents)> StoredAsync(
        NpgsqlConnection connection, UnitKey key, CancellationToken cancellation)
    {
        var stream = StreamNames.Of(key);
        await using var batch = new NpgsqlBatch(connection)
        {
            BatchCommands = { new(ReferenceCache.SeqQuery), EventReader.Query([stream]), Ingest.UnitLoader.Installations([key]) },
        };
        await using var reader = await batch.ExecuteReaderAsync(cancellation);
        await reader.ReadAsync(cancellation);
        var seq = reader.GetInt64(0);
        await reader.NextResultAsync(cancellation);
        var facts = (await EventReader.ReadAsync(reader, cancellation)).GetValueOrDefault(stream, []);
        await reader.NextResultAsync(cancellation);
        return (seq, facts, [.. (await Ingest.UnitLoader.ReadInstallationsAsync(reader, cancellation))[key]]);
    }
}
