using System.Collections.Immutable;
using Traceability.Domain.Primitives;
using Traceability.Domain.Routings;
using Traceability.Testing.Building;

namespace Traceability.Testing.Scope.Facts;

/// <summary>The names and routings of a small works. Several works can share one database: what a question names, each has for itself.</summary>
/// <param name="tag">What its names end in.</param>
/// <param name="bound">Which steps are bound to the first station: a bit each for BOND and SCREW under A, BOND and SCREW under B, MARRY.</param>
public sealed class Plant(string tag, int bound)
{
    /// <summary>The least torque that passes, in N·m.</summary>
    public const decimal TorqueMin = 1.0m;

    /// <summary>The most.</summary>
    public const decimal TorqueMax = 1.2m;

    /// <summary>What is measured.</summary>
    public static readonly Code Torque = Code.Parse("TORQUE");

    /// <summary>What is checked.</summary>
    public static readonly Code Look = Code.Parse("LOOK");

    /// <summary>The interval from the completion of BOND to the start of SCREW.</summary>
    public static readonly Code Cure = Code.Parse("CURE");

    /// <summary>The steps.</summary>
    public static readonly StepCode Bond = StepCode.Parse("BOND");

    /// <summary>Screwing, after bonding.</summary>
    public static readonly StepCode Screw = StepCode.Parse("SCREW");

    /// <summary>Putting the parts together.</summary>
    public static readonly StepCode Marry = StepCode.Parse("MARRY");

    /// <summary>Closing, after marrying.</summary>
    public static readonly StepCode Seal = StepCode.Parse("SEAL");

    /// <summary>Where the first component goes.</summary>
    public static readonly Code First = Code.Parse("P1");

    /// <summary>Where the second one goes.</summary>
    public static readonly Code Second = Code.Parse("P2");

    /// <summary>A place that no step asks for.</summary>
    public static readonly Code Extra = Code.Parse("PX");

    /// <summary>The stations.</summary>
    public static ImmutableArray<StationCode> Stations => RandomWork.Stations;

    /// <summary>The settings of the tool; no fact of it names the last.</summary>
    public static ImmutableArray<Code> Settings => RandomWork.Settings;

    /// <summary>The revisions; A holds for units without a variant, B for those with one.</summary>
    public static ImmutableArray<RevisionCode> Revisions => RandomWork.Revisions;

    /// <summary>The variant.</summary>
    public static readonly VariantCode Variant = VariantCode.Parse("V1");

    /// <summary>The supplier's lot.</summary>
    public string SupplierLot { get; } = "S" + tag;

    /// <summary>The consumable.</summary>
    public ItemNumber Adhesive { get; } = ItemNumber.Parse("ADH" + tag);

    /// <summary>What may be used in its place.</summary>
    public ItemNumber Alternative { get; } = ItemNumber.Parse("ALT" + tag);

    /// <summary>A bought part.</summary>
    public ItemNumber Pin { get; } = ItemNumber.Parse("PIN" + tag);

    /// <summary>A subassembly.</summary>
    public ItemNumber Sub { get; } = ItemNumber.Parse("SUB" + tag);

    /// <summary>The product.</summary>
    public ItemNumber Top { get; } = ItemNumber.Parse("TOP" + tag);

    /// <summary>The tool that may be suspected.</summary>
    public ToolNumber Tool { get; } = ToolNumber.Parse("SD1" + tag);

    /// <summary>Another one of its class.</summary>
    public ToolNumber OtherTool { get; } = ToolNumber.Parse("SD2" + tag);

    /// <summary>Their class.</summary>
    public Code ToolClass { get; } = Code.Parse("DRIVER" + tag);

    /// <summary>The people.</summary>
    public ImmutableArray<PersonCode> People { get; } = [PersonCode.Parse("P1" + tag), PersonCode.Parse("P2" + tag)];

    /// <summary>The routings, each with its revisions in the order of their release.</summary>
    public IEnumerable<RoutingRevision> Routings() =>
    [
        Build("A"),
        Build("B"),
        new RoutingBuilder(Top.Value)
            .Step("MARRY", s => Bind(s, 4).Component("P1", Sub.Value).Component("P2", Pin.Value))
            .Step("SEAL", s => s.After("MARRY").Check("LOOK"))
            .Build(),
    ];

    /// <summary>Where the step may be done under the revision; empty: anywhere.</summary>
    public ImmutableArray<StationCode> Bound(RevisionCode revision, StepCode step)
    {
        var bit = step == Marry ? 4 : (revision == Revisions[0] ? 0 : 2) + (step == Bond ? 0 : 1);
        return step != Seal && IsBound(bit) ? [Stations[0]] : [];
    }

    /// <summary>Whether the step asks for a tool under the revision.</summary>
    public static bool NeedsTool(RevisionCode revision, StepCode step) => step == Screw || (step == Bond && revision == Revisions[0]);

    /// <summary>Whether it asks for the torque.</summary>
    public static bool NeedsTorque(RevisionCode revision, StepCode step) => step == Bond || (step == Screw && revision == Revisions[1]);

    /// <summary>Whether it asks for the check.</summary>
    public static bool NeedsLook(RevisionCode revision, StepCode step) => step == Seal || (step == Screw && revision == Revisions[0]);

    /// <summary>Whether the interval rule ends at it.</summary>
    public static bool NeedsCure(RevisionCode revision, StepCode step) => step == Screw && revision == Revisions[0];

    private RoutingRevision Build(string revision)
    {
        var isFirst = revision == "A";
        var routing = new RoutingBuilder(Sub.Value, revision)
            .For(isFirst ? Effectivity.Always : StepBuilder.Variants(Variant.Value))
            .Step("BOND", s => Ask(Bind(s, isFirst ? 0 : 2), revision, "BOND").Material("GLUE", Adhesive.Value, Tracing.Container, alternatives: [Alternative.Value]))
            .Step("SCREW", s => Ask(Bind(s, isFirst ? 1 : 3), revision, "SCREW").After("BOND"));
        return (isFirst ? routing.Interval("CURE", "BOND.completed", "SCREW.started", minMinutes: 2) : routing).Build();
    }

    private StepBuilder Ask(StepBuilder step, string revision, string code)
    {
        var (r, s) = (RevisionCode.Parse(revision), StepCode.Parse(code));
        step = NeedsTool(r, s) ? step.Tool("DRV", ToolClass.Value) : step;
        step = NeedsTorque(r, s) ? step.Measure("TORQUE", "N.m", TorqueMin, TorqueMax) : step;
        return NeedsLook(r, s) ? step.Check("LOOK") : step;
    }

    private StepBuilder Bind(StepBuilder step, int bit) => IsBound(bit) ? step.AtStations(Stations[0].Value) : step;

    private bool IsBound(int bit) => (bound >> bit & 1) == 1;
}
