using System.Collections.Immutable;
using System.Reflection;
using Traceability.Domain.Primitives;
using Traceability.Domain.Routings;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Routings;

public sealed class RevisionDifferencesTests
{
    private static readonly RulePolicy Flagged = new(Enforcement.Flag, CountsAsDefect: true);

    private static readonly Effectivity Some2 = new(
        [VariantCode.Parse("L"), VariantCode.Parse("M")], [Domain.Primitives.Code.Parse("SEAL"), Domain.Primitives.Code.Parse("COAT")], SerialNumber.Parse("10"), SerialNumber.Parse("90"), Some.At(0), Some.At(60));

    /// <summary>A revision in which every member says something somewhere.</summary>
    private static readonly RoutingRevision Full = new RoutingBuilder("LAMP")
        .For(Some2)
        .Step("GLUE", s => s.Material("ADHESIVE", "ADH-1", Tracing.Container, ["ADH-2", "ADH-3"], new(0.3m, "g"), new(0.5m, "g"), Some2, Flagged)
            .Measure("BORE", "mm", 8.5m, 8.73m, 0.01m, isRequired: false, Flagged))
        .Step("WIRE")
        .Step("CLOSE", s => s.After("GLUE", "WIRE").PointOfNoReturn("GLUE", "WIRE").AppliesTo(Some2).Caution("Press straight.").Caution("Wear glasses.").AtStations("ST-1", "ST-2").Needs("BONDING")
            .OrderPolicy(Flagged)
            .Measure("SHIM", "mm", new Limit(-0.05m, [new(1m, Some.Code("HEAD"), Some.Step("GLUE"), Some.Code("BORE"))]), new Limit(0.05m, [new(1m, null, Some.Step("GLUE"), Some.Code("BORE"))]))
            .Component("HEAD", "HEAD", true, ["HEAD-2", "HEAD-3"], Some2, Flagged)
            .Tool("DRIVER", "SCREWDRIVER", "5", new(1.1m, "N.m"), new(1.3m, "N.m"), Flagged))
        .Interval("POT", "GLUE.opened:ADHESIVE", "CLOSE.completed", 8, 90, Flagged, Some2)
        .Build();

    [Fact]
    public void A_revision_differs_from_itself_in_nothing() =>
        Assert.Empty(RevisionDifferences.Between(Full, Full with { Revision = RevisionCode.Parse("B") }));

    [Fact]
    public void The_difference_is_told_part_by_part_in_sentences()
    {
        var a = new RoutingBuilder("LAMP", "A")
            .Step("GLUE", s => s.Material("ADHESIVE", "ADH-1").Measure("BORE", "mm", 8.5m, 8.73m).Caution("Vapour: ventilate."))
            .Step("WIRE", s => s.Tool("DRIVER", "SCREWDRIVER", "2"))
            .Step("TEST", s => s.After("GLUE", "WIRE"))
            .Interval("CURE", "GLUE.completed", "TEST.started", 8).Build();
        var b = new RoutingBuilder("LAMP", "B")
            .For(Effectivity.Always with { SerialFrom = SerialNumber.Parse("100") })
            .Step("WIRE", s => s.Tool("DRIVER", "SCREWDRIVER", "3"))
            .Step("GLUE", s => s.Material("ADHESIVE", "ADH-1", alternatives: ["ADH-2"]).Measure("BORE", "mm", 8.50m, 8.70m).Caution("Vapour: ventilate.").Caution("Gloves."))
            .Step("HEAD", s => s.Component("HEAD", "HEAD"))
            .Interval("CURE", "GLUE.completed", "HEAD.started", 10).Build();

        Assert.Equal(
            [
                "The revision: effectivity is now from serial 100; before: every unit.",
                "The steps come in another order: WIRE, GLUE; before: GLUE, WIRE.",
                "Step TEST (TEST) is dropped.",
                "Step WIRE, tool DRIVER: setting is now 3; before: 2.",
                "Step GLUE: the caution \"Gloves.\" is new.",
                "Step GLUE, characteristic BORE (BORE): upper is now 8.7; before: 8.73.",
                "Step GLUE, material ADHESIVE: alternatives is now ADH-2; before: none.",
                "Step HEAD (HEAD) is new.",
                "Interval CURE (CURE): to is now HEAD started; before: TEST started.",
                "Interval CURE (CURE): minimum is now 10 min; before: 8 min.",
            ],
            RevisionDifferences.Between(a, b).Select(c => c.Sentence));
    }

    [Fact]
    public void What_one_direction_adds_the_other_drops()
    {
        var less = Full with { Steps = [.. Full.Steps.Where(s => s.Code != Some.Step("WIRE"))], Intervals = [] };
        Assert.Equal(
            [(ChangeKind.Removed, RevisionPart.Step), (ChangeKind.Removed, RevisionPart.Interval)],
            RevisionDifferences.Between(Full, less).Select(c => (c.Kind, c.Part)));
        Assert.Equal(
            [(ChangeKind.Added, RevisionPart.Step), (ChangeKind.Added, RevisionPart.Interval)],
            RevisionDifferences.Between(less, Full).Select(c => (c.Kind, c.Part)));
    }

    [Fact]
    public void A_code_that_is_written_none_is_not_the_same_as_no_code()
    {
        var with = new RoutingBuilder("LAMP").Step("GLUE", s => s.Needs("none")).Build();
        var without = new RoutingBuilder("LAMP").Step("GLUE").Build();
        Assert.Equal("qualification", Assert.Single(RevisionDifferences.Between(with, without)).Member);
    }

    // Also for members that the types get later: whatever is not compared is found here.
    [Fact]
    public void Every_member_of_every_part_is_compared()
    {
        var touched = new HashSet<string>(StringComparer.Ordinal);
        var missed = new List<string>();
        foreach (var (path, changed) in Variants(Full, string.Empty, touched))
        {
            if (path != "/Revision" && (RevisionDifferences.Between(Full, (RoutingRevision)changed).IsEmpty || RevisionDifferences.Between((RoutingRevision)changed, Full).IsEmpty))
            {
                missed.Add(path);
            }
        }

        Assert.Empty(missed);
        Type[] parts = [typeof(RoutingRevision), typeof(Step), typeof(Characteristic), typeof(Limit), typeof(LimitTerm), typeof(MaterialRequirement), typeof(ComponentRequirement), typeof(ToolRequirement), typeof(IntervalRule), typeof(Milestone), typeof(Effectivity), typeof(RulePolicy)];
        var old = parts.SelectMany(t => t.GetConstructors().OrderByDescending(c => c.GetParameters().Length).First().GetParameters().Select(p => $"{t.Name}.{p.Name}"));
        Assert.Subset(touched, old.ToHashSet(StringComparer.Ordinal));
    }

    // The value with one thing in it changed, for every such thing.
    private static IEnumerable<(string Path, object Changed)> Variants(object value, string path, HashSet<string> touched)
    {
        var type = value.GetType();
        if (type.IsGenericType && type.GetGenericTypeDefinition() == typeof(ImmutableArray<>))
        {
            foreach (var variant in ListVariants((System.Collections.IList)value, path, touched))
            {
                yield return variant;
            }
        }
        else if (type.Namespace == typeof(RoutingRevision).Namespace && type.IsClass)
        {
            foreach (var member in type.GetProperties().Where(p => p.SetMethod is not null))
            {
                if (member.GetValue(value) is { } old)
                {
                    foreach (var (inner, changed) in Variants(old, $"{path}/{member.Name}", touched))
                    {
                        touched.Add($"{type.Name}.{member.Name}");
                        yield return (inner, With(value, member, changed));
                    }
                }
            }
        }
        else
        {
            yield return (path, Other(value));
        }
    }

    private static IEnumerable<(string Path, object Changed)> ListVariants(System.Collections.IList list, string path, HashSet<string> touched)
    {
        var add = list.GetType().GetMethod("SetItem")!;
        var remove = list.GetType().GetMethods().Single(m => m.Name == "RemoveAt");
        for (var i = 0; i < list.Count; i++)
        {
            yield return ($"{path}/{i}-", remove.Invoke(list, [i])!);
            foreach (var (inner, changed) in Variants(list[i]!, $"{path}/{i}", touched))
            {
                yield return (inner, add.Invoke(list, [i, changed])!);
            }
        }
    }

    private static object With(object record, PropertyInfo member, object value)
    {
        var copy = record.GetType().GetMethod("<Clone>$")!.Invoke(record, [])!;
        member.SetValue(copy, value);
        return copy;
    }

    private static object Other(object value) => value switch
    {
        string text => text + "x",
        bool flag => !flag,
        decimal number => number + 0.001m,
        TimeSpan span => span + TimeSpan.FromTicks(1),
        DateTimeOffset time => time.AddTicks(1),
        EnteredQuantity quantity => quantity with { Value = quantity.Value + 1 },
        Enum named => Enum.GetValues(named.GetType()).Cast<object>().First(v => !v.Equals(named)),
        _ => value.GetType().GetMethod("Parse", [typeof(string)])!.Invoke(null, [value + "9"])!,
    };
}
