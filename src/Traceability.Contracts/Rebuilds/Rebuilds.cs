namespace Traceability.Contracts.Rebuilds;

/// <summary>What became of a rebuild.</summary>
public enum RebuildState
{
    /// <summary>It is at work.</summary>
    Running,

    /// <summary>It is through: swapped in, or compared where only that was asked for.</summary>
    Done,

    /// <summary>It failed; the live rows are as they were.</summary>
    Failed,

    /// <summary>The instance that worked on it ended; the live rows are as they were.</summary>
    Interrupted,
}

/// <summary>The last rebuilds, newest first.</summary>
/// <param name="Rebuilds">At most 20.</param>
public sealed record RebuildList(IReadOnlyList<Rebuild> Rebuilds);

/// <summary>One rebuild of everything that is derived from the facts, beside the live rows.</summary>
public sealed record Rebuild
{
    /// <summary>Its number.</summary>
    public required long Id { get; init; }

    /// <summary>What became of it.</summary>
    public required RebuildState State { get; init; }

    /// <summary>What it is or was at: preparing, judging, judging-assemblies, indexing, catching-up, comparing, swapping, dropping, done.</summary>
    public required string Phase { get; init; }

    /// <summary>Whether the rows are only compared, and the live ones kept.</summary>
    public required bool IsCompareOnly { get; init; }

    /// <summary>The name of the key that asked for it.</summary>
    public required string AskedBy { get; init; }

    /// <summary>When it began.</summary>
    public required DateTimeOffset StartedAt { get; init; }

    /// <summary>When it ended; null while it runs.</summary>
    public DateTimeOffset? EndedAt { get; init; }

    /// <summary>The units judged from their facts so far.</summary>
    public required long Units { get; init; }

    /// <summary>The facts read for that so far.</summary>
    public required long Facts { get; init; }

    /// <summary>The units judged once more, since they were written while the rebuild ran.</summary>
    public required long CaughtUp { get; init; }

    /// <summary>The live rows against the rebuilt ones; null before they are compared.</summary>
    public RebuildComparison? Comparison { get; init; }

    /// <summary>Why it failed, for a person; null if it didn't.</summary>
    public string? Reason { get; init; }
}

/// <summary>The live rows against the rebuilt ones. A difference says that the live rows were wrong, or that the rules of judging have changed since they were written.</summary>
/// <param name="Tables">Each table with rows of units: how many rows, and a hash over them that does not depend on their order.</param>
/// <param name="DifferingUnits">How many units have rows that differ.</param>
/// <param name="Differing">The first of them by name, with the tables.</param>
/// <param name="DifferingYields">How many yield counters differ from the results that they count.</param>
/// <param name="Yields">The first of these, in words.</param>
/// <param name="LeftOut">Units that were on their way to another judgement at that moment, and are not in the tables' hashes.</param>
public sealed record RebuildComparison(
    IReadOnlyList<TableComparison> Tables,
    long DifferingUnits,
    IReadOnlyList<DifferingUnit> Differing,
    long DifferingYields,
    IReadOnlyList<string> Yields,
    long LeftOut);

/// <summary>One table, live and rebuilt.</summary>
/// <param name="Table">Its name.</param>
/// <param name="LiveRows">Rows compared of the live one.</param>
/// <param name="RebuiltRows">Rows compared of the rebuilt one.</param>
/// <param name="LiveHash">Hash of the live rows: 16 hexadecimal digits.</param>
/// <param name="RebuiltHash">Hash of the rebuilt rows.</param>
public sealed record TableComparison(string Table, long LiveRows, long RebuiltRows, string LiveHash, string RebuiltHash);

/// <summary>A unit whose live rows differ from the rebuilt ones.</summary>
/// <param name="Unit">The unit: item/serial.</param>
/// <param name="Tables">The tables.</param>
public sealed record DifferingUnit(string Unit, IReadOnlyList<string> Tables);
