using System.Reflection;
using System.Text.Json;
using System.Text.Json.Nodes;
using System.Text.Json.Serialization;
using Microsoft.AspNetCore.Mvc.ApiExplorer;
using Microsoft.OpenApi;
using Swashbuckle.AspNetCore.SwaggerGen;
using Traceability.Contracts;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Http;

/// <summary>The description of the API: OpenAPI 3.1, the same text each time it is made.</summary>
internal static class OpenApiSetup
{
    /// <summary>Name of the one document.</summary>
    public const string DocumentName = "openapi";

    /// <summary>Name of the security scheme in it.</summary>
    public const string SecurityScheme = "key";

    private static readonly Assembly[] DescribedAssemblies = [typeof(OpenApiSetup).Assembly, typeof(ProblemCodes).Assembly, typeof(UnitKey).Assembly];

    private static readonly ILookup<string, Type> SameNames =
        DescribedAssemblies.SelectMany(a => a.GetTypes()).Where(t => !t.IsNested).ToLookup(t => t.Name, StringComparer.Ordinal);

    /// <summary>Adds what makes it.</summary>
    public static void AddOpenApiDocument(this IServiceCollection services)
    {
        services.AddEndpointsApiExplorer();
        services.AddSwaggerGen(Configure);
        services.AddSingleton<OpenApiText>();
    }

    private static void Configure(SwaggerGenOptions o)
    {
        o.SwaggerDoc(DocumentName, new()
        {
            Title = "Traceability",
            Version = "v1",
            Description = "Production traceability and quality: record how units are built, judge the records against released rules, and answer for them. "
                + "Every answer from 400 up is a problem document (RFC 9457). Times carry their offset (RFC 3339).",
        });
        o.AddServer(new() { Url = "/" });
        o.MapType<decimal>(() => new OpenApiSchema { Type = JsonSchemaType.Number, Format = "decimal" });
        o.MapType<decimal?>(() => new OpenApiSchema { Type = JsonSchemaType.Number | JsonSchemaType.Null, Format = "decimal" });
        o.MapType<TimeSpan>(Duration);
        o.SupportNonNullableReferenceTypes();
        o.NonNullableReferenceTypesAsRequired();
        o.UseOneOfForPolymorphism();
        o.SelectSubTypesUsing(t => t.GetCustomAttributes<JsonDerivedTypeAttribute>(inherit: false).Select(d => d.DerivedType));
        o.SelectDiscriminatorNameUsing(t => t.GetCustomAttribute<JsonPolymorphicAttribute>(inherit: false)?.TypeDiscriminatorPropertyName);
        o.SelectDiscriminatorValueUsing(DiscriminatorValue);
        o.CustomOperationIds(OperationId);
        o.CustomSchemaIds(t => SchemaId(t));
        o.SortSchemasWith(StringComparer.Ordinal);
        o.OrderActionsBy(d => $"/{d.RelativePath} {d.HttpMethod}");
        o.AddSecurityDefinition(SecurityScheme, new OpenApiSecurityScheme
        {
            Type = SecuritySchemeType.Http,
            Scheme = "bearer",
            BearerFormat = "trc_...",
            Description = "A key that an administrator gave. Its role decides what it may do; a station's key speaks for its station only.",
        });
        o.SchemaFilter<CodeSchemas>();
        o.OperationFilter<ProblemResponses>();
        o.DocumentFilter<ProblemSchemas>();
        foreach (var assembly in DescribedAssemblies)
        {
            o.IncludeXmlComments(assembly, includeControllerXmlComments: false);
        }
    }

    private static string? DiscriminatorValue(Type type)
    {
        for (var ancestor = type.BaseType; ancestor is not null; ancestor = ancestor.BaseType)
        {
            var named = ancestor.GetCustomAttributes<JsonDerivedTypeAttribute>(inherit: false).FirstOrDefault(d => d.DerivedType == type);
            if (named is not null)
            {
                return named.TypeDiscriminator?.ToString();
            }
        }

        return null;
    }

    private static string? OperationId(ApiDescription operation) =>
        operation.ActionDescriptor.EndpointMetadata.OfType<IEndpointNameMetadata>().LastOrDefault() is { EndpointName: var name }
            ? JsonNamingPolicy.CamelCase.ConvertName(name)
            : null;

    private static OpenApiSchema Duration() => new() { Type = JsonSchemaType.String, Format = "duration", Examples = [JsonValue.Create("PT10M")] };

    // A type has its own name. Where others have the same, the contract's only one keeps it, and the rest say where they are from.
    private static string SchemaId(Type type)
    {
        if (type.IsGenericType)
        {
            return type.Name[..type.Name.IndexOf('`', StringComparison.Ordinal)] + string.Concat(type.GetGenericArguments().Select(SchemaId));
        }

        var same = SameNames[type.Name].ToArray();
        var contracts = same.Where(t => t.Assembly == typeof(ProblemCodes).Assembly).ToArray();
        var keeps = same.Length <= 1 || (contracts is [var only] && only == type);
        return keeps ? type.Name : type.Namespace!.Split('.')[^1] + type.Name;
    }
}
