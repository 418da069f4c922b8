namespace Traceability.Simulator.Plant;

/// <summary>The kinds of trouble that the plant has.</summary>
public enum TroubleKind
{
    BadLotUsed,
    LeakedForBadLot,
    LotChangedMidShift,
    LotNotScanned,
    AdhesiveNotScanned,
    ContainerNotScanned,
    SerialNotScanned,
    StepNotRecorded,
    LoadedTooEarly,
    ClampedTooLong,
    SetInDoubt,
    ContainerPastLife,
    UsedAfterQuarantine,
    ExpirySetEarlier,
    DriverFoundOut,
    WrongClutchSetting,
    Rebonded,
    Retested,
    SubassemblySwapped,
    CaseReplaced,
    Scrapped,
    Held,
    Returned,
    LotCorrected,
    CorrectionVoided,
    RecordVoided,
    Unqualified,
    ClockSevenMinutesOff,
    ClockTwentySixHoursOff,
    MovedToRevision,
    LeftInClamp,
    LoadedTooEarlyByDose,
    DriverFailedCheck,
    DripsForBadTool,
    LooseForBadContainer,
    QualificationExpired,
    InputCorrected,
    SensorSentBack,
    Polished,
    UsedAsIs,
    ReportedByPerson,
    MovedInProcess,
    PotLifeExceeded,
    MixRatioOff,
    MixNotWeighed,
    MixNotScanned,
    TransferTooSlow,
    HousingDropped,
}

/// <summary>Trouble that really happened.</summary>
/// <param name="Kind">What.</param>
/// <param name="Unit">The unit that it hit ("item/serial").</param>
/// <param name="Step">At which step; null for none.</param>
/// <param name="Detail">In words.</param>
public sealed record Trouble(TroubleKind Kind, string Unit, string? Step, string Detail);

/// <summary>Material that really went into a unit, whether or not anyone recorded it.</summary>
/// <param name="Unit">The unit.</param>
/// <param name="Step">The step.</param>
/// <param name="Item">The item.</param>
/// <param name="Lot">The lot under whose number it lay there.</param>
/// <param name="Container">The container; null where the item has none.</param>
/// <param name="At">When.</param>
/// <param name="Origin">The received lot that it really came from, where that is another one.</param>
public sealed record TrueUse(string Unit, string Step, string Item, string Lot, string? Container, DateTimeOffset At, string? Origin)
{
    /// <summary>Whether it is of a lot, or of one container of it.</summary>
    public bool IsOf(string item, string lot, string? container) =>
        Item == item && (Lot == lot || Origin == lot) && (container is null || Container == container);
}

/// <summary>A tool that really was used on a unit.</summary>
public sealed record TrueToolUse(string Unit, string Step, string Tool, DateTimeOffset CompletedAt, bool IsRecorded);

/// <summary>A component that really was in a unit.</summary>
public sealed record TrueContent(string Parent, string Position, string Component, DateTimeOffset From, DateTimeOffset? To);

/// <summary>What the model knows and the service can't: where every lot went and what went wrong where.</summary>
public sealed class PlantTruth
{
    private readonly List<Trouble> _troubles = [];
    private readonly List<TrueUse> _uses = [];
    private readonly List<TrueContent> _contents = [];
    private readonly List<TrueToolUse> _toolUses = [];
    private readonly List<string> _unsigned = [];

    /// <summary>Everything that went wrong.</summary>
    public IReadOnlyList<Trouble> Troubles => _troubles;

    /// <summary>Every use of material.</summary>
    public IReadOnlyList<TrueUse> Uses => _uses;

    /// <summary>Every component in every unit.</summary>
    public IReadOnlyList<TrueContent> Contents => _contents;

    /// <summary>The item of the lot that makes leak tests fail.</summary>
    public string BadItem { get; internal set; } = string.Empty;

    /// <summary>The lot that makes leak tests fail.</summary>
    public string BadLot { get; internal set; } = string.Empty;

    /// <summary>The driver that a calibration found out.</summary>
    public string BadTool { get; internal set; } = string.Empty;

    /// <summary>When that was.</summary>
    public DateTimeOffset BadToolFoundAt { get; internal set; }

    /// <summary>The item of the container whose content does not hold.</summary>
    public string BadContainerItem { get; } = "THL-3";

    /// <summary>Its lot.</summary>
    public string BadContainerLot { get; internal set; } = string.Empty;

    /// <summary>The container whose content does not hold.</summary>
    public string BadContainer { get; internal set; } = string.Empty;

    /// <summary>Every use of a driver on a pump.</summary>
    public IReadOnlyList<TrueToolUse> ToolUses => _toolUses;

    /// <summary>Pumps that are complete and wait for a release by signature.</summary>
    public IReadOnlyList<string> Unsigned => _unsigned;

    /// <summary>The units that hold or held material of a lot (or one container of it), at any depth, at any time.</summary>
    public IReadOnlySet<string> UnitsWith(string item, string lot, string? container = null)
    {
        var reached = new HashSet<string>(StringComparer.Ordinal);
        foreach (var use in _uses)
        {
            if (use.IsOf(item, lot, container))
            {
                reached.Add(use.Unit);
            }
        }

        // Material that was put into a component after it had left the parent never was in the parent.
        var grew = true;
        while (grew)
        {
            grew = false;
            foreach (var content in _contents)
            {
                if (reached.Contains(content.Component) && WasReachedWhileInside(content, item, lot, container, reached))
                {
                    grew |= reached.Add(content.Parent);
                }
            }
        }

        return reached;
    }

    internal void Hit(TroubleKind kind, UnitId unit, string? step, string detail) =>
        _troubles.Add(new(kind, unit.ToString(), step, detail));

    internal void Used(UnitId unit, string step, string item, Taken taken, DateTimeOffset at) =>
        _uses.Add(new(unit.ToString(), step, item, taken.Lot, taken.Container, at, taken.Origin));

    internal void UsedPot(UnitId unit, string step, Pot pot, DateTimeOffset at)
    {
        Used(unit, step, MixBench.Item, new(pot.Lot, null, [pot.Lot], null), at);
        Used(unit, step, MixBench.Resin, pot.Resin, at);
        Used(unit, step, MixBench.Hardener, pot.Hardener, at);
    }

    internal void UsedTool(UnitId unit, StepWork work, string tool) =>
        _toolUses.Add(new(unit.ToString(), work.Step, tool, work.CompletedAt, !work.IsUnrecorded));

    internal void WaitsForSignature(UnitId unit) => _unsigned.Add(unit.ToString());

    internal void PutIn(UnitId parent, string position, UnitId component, DateTimeOffset at) =>
        _contents.Add(new(parent.ToString(), position, component.ToString(), at, null));

    internal void TakenOut(UnitId parent, UnitId component, DateTimeOffset at)
    {
        var index = _contents.FindIndex(c => c.Parent == parent.ToString() && c.Component == component.ToString() && c.To is null);
        _contents[index] = _contents[index] with { To = at };
    }

    private bool WasReachedWhileInside(TrueContent content, string item, string lot, string? container, HashSet<string> reached) =>
        _uses.Any(u => u.Unit == content.Component && u.IsOf(item, lot, container) && (content.To is null || u.At < content.To))
        || _contents.Any(c => c.Parent == content.Component && reached.Contains(c.Component)
            && (content.To is null || c.From < content.To));
}
